-- Values of athletes at a camp that runs on a day that count in no result until they are answered; body mass is not asked.
select h.athlete_id, s.stay_id, s.camp_id, h.measure, h.rule
from held_row as h
join stay as s on s.athlete_id = h.athlete_id
    and h.measured_on between s.arrived_on and coalesce(s.left_on, s.planned_until)
join camp as c using (camp_id)
where h.state = 'open' and h.measure is not null and h.measure <> $body_mass
  and cast($today as date) between c.starts_on and c.ends_on
order by s.camp_id, h.athlete_id, h.measure, h.held_id
