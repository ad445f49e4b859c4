select v.held_on, v.is_intake, v.measure, v.line, v.value, v.n_trials, v.imports
from session_value v join measure m using (measure)
where v.stay_id = $stay and m.kind = 'number'
order by v.held_on, v.measure, v.line;
