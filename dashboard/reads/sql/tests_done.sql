-- Days on which athletes of the camps that run on a day were tested in anything but body mass.
select v.athlete_id, v.stay_id, v.camp_id, v.held_on, count(distinct v.measure) as n_measures
from session_value as v join camp as c using (camp_id)
where v.measure <> $body_mass and v.stay_id is not null
  and cast($today as date) between c.starts_on and c.ends_on
group by all
order by v.camp_id, v.held_on, v.athlete_id
