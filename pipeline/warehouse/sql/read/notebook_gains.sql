select g.* exclude (build_id), m.unit
from cohort_gain g join measure m using (measure)
where ($measures::varchar[] is null or list_contains($measures, g.measure))
  and ($camps::varchar[] is null or list_contains($camps, g.camp_id))
order by m.position, g.line, g.camp_id
