select athlete_id, value - shift as value, held_on
from session_value
where measure = $measure
qualify row_number() over (partition by athlete_id order by own_line = $line desc, held_on desc, own_line) = 1
