-- Every weigh-in under protocol of some athletes, trial by trial, with the line of the file that it came from.
select r.athlete_id, s.stay_id, s.camp_id, r.measured_on, r.value, r.import_id, r.row_no
from reading r join session s using (session_id)
where r.measure = $body_mass and list_contains($athletes, r.athlete_id) and s.stay_id is not null and not r.set_aside
order by s.stay_id, r.measured_on
