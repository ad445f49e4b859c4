select conditions, count(*) as n
from reading join session using (session_id)
where measure = $measure and camp_id = (
    select arg_max(s.camp_id, s.held_on) from session_value s where s.measure = $measure and s.camp_id is not null
)
group by conditions
order by n desc, conditions
