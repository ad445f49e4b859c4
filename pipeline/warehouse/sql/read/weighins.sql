-- Weigh-ins under protocol, one a day: taken after food, or outside a stay, they stay out of the trend.
select r.athlete_id, s.stay_id, s.camp_id, r.measured_on, median(r.value) as kg
from reading r join session s using (session_id)
where r.measure = $body_mass and s.stay_id is not null and not r.set_aside
group by r.athlete_id, s.stay_id, s.camp_id, r.measured_on
order by s.stay_id, r.measured_on
