select v.athlete_id, stay_id, camp_id, held_on, weeks, is_intake, v.measure, line, v.own_line,
       value, shift, best, n_trials, imports, e.load as set_load, e.reps as set_reps
from session_value v
left join estimated_value e
    on v.session_id = e.session_id and v.measure = e.measure and v.own_line = e.own_line
where camp_id = $camp_id and v.measure = $measure and line = $line
order by athlete_id, held_on
