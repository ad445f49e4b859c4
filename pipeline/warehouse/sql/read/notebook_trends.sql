select t.* exclude (build_id), m.unit
from trend t join measure m using (measure)
where ($measures::varchar[] is null or list_contains($measures, t.measure))
  and ($athletes::varchar[] is null or list_contains($athletes, t.athlete_id))
  and ($camps::varchar[] is null or list_contains($camps, t.camp_id))
order by m.position, t.line, t.athlete_id, t.first_on, t.stay_id
