select athlete_id, value, held_on
from session_value
where measure = $measure
qualify row_number() over (partition by athlete_id order by held_on desc) = 1
