select h.measured_on, h.measure, h.rule, h.reason, count(*)::integer as n
from held_row h join measure m using (measure)
where h.athlete_id = $athlete_id and h.state = 'open' and m.family = 'movement' and m.unit = 'deg/s'
      and h.measured_on is not null
group by h.measured_on, h.measure, h.rule, h.reason
order by h.measured_on, h.measure, h.rule, h.reason
