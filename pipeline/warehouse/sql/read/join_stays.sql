-- The stays of one athlete id: camp, first and last day as known or planned.
select c.label, s.arrived_on, coalesce(s.left_on, s.planned_until)
from stay s join camp c using (camp_id)
where s.athlete_id = $athlete
order by s.arrived_on, s.stay_id
