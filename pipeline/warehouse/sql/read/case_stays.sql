-- An athlete's stays, the oldest first; one row without a stay where the athlete has none.
select s.stay_id, a.athlete_id, a.display_name, a.sport, a.positions, c.label, s.arrived_on, s.left_on, s.planned_until,
    s.left_early
from athlete a
left join stay s using (athlete_id)
left join camp c using (camp_id)
where a.athlete_id = $athlete
order by s.arrived_on, s.stay_id;
