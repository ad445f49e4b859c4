select t.*
from trend t
where t.camp_id = $camp_id and t.measure = $measure and t.line = $line
order by t.athlete_id
