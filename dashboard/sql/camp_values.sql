select athlete_id, stay_id, camp_id, held_on, weeks, is_intake, measure, line, own_line, value, shift, best,
       n_trials, imports
from session_value
where camp_id = $camp_id and measure = $measure and line = $line
order by athlete_id, held_on
