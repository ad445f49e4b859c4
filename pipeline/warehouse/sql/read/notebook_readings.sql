select r.athlete_id, s.stay_id, s.camp_id, r.measure, r.line, r.conditions, r.measured_on, r.trial, r.value, m.unit,
       r.raw_value, r.raw_unit, r.decided, r.set_aside, r.import_id, r.row_no, r.field
from reading r join measure m using (measure) join session s using (session_id)
where ($measures::varchar[] is null or list_contains($measures, r.measure))
  and ($athletes::varchar[] is null or list_contains($athletes, r.athlete_id))
  and ($camps::varchar[] is null or list_contains($camps, s.camp_id))
order by m.position, r.line, r.athlete_id, r.measured_on, r.trial, r.import_id, r.row_no, r.field
