select athlete_id, stay_id, camp_id, held_on, weeks, is_intake, measure, line, own_line, value, shift, best,
       n_trials, imports
from session_value
where athlete_id = $athlete_id
order by measure, held_on
