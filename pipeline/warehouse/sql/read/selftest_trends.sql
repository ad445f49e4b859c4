-- Changes with an interval of completed stays, to be held against the planted ones.
select t.stay_id, t.measure, t.change, t.low, t.high, t.weeks * 7 / greatest(s.left_on - s.arrived_on, 1) as share
from trend t join stay s using (stay_id)
where t.change is not null and s.left_on is not null and not s.left_early
qualify row_number() over (partition by t.stay_id, t.measure order by t.n_sessions desc, t.line) = 1
order by t.stay_id, t.measure
