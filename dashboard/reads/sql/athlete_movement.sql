select r.measured_on, coalesce(r.conditions ->> '$.action', '') as action, coalesce(r.conditions ->> '$.event', '') as event,
       r.trial, r.measure, r.line, r.value
from reading r join measure m using (measure)
where r.athlete_id = $athlete_id and m.family = 'movement' and m.unit in ('deg/s', 'ms', 'deg') and not r.set_aside
order by r.measured_on, r.trial, r.measure
