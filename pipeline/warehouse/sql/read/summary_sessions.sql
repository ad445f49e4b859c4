-- Every session value on the scale it was measured on: what a bridge added is taken off again.
select
    v.athlete_id, v.held_on, coalesce(v.stay_id, ''), v.measure, v.own_line, v.line,
    v.value - v.shift, v.best - v.shift, v.n_trials, v.shift,
    e.load, e.reps
from session_value v
join measure m using (measure)
left join estimated_value e
    on v.session_id = e.session_id and v.measure = e.measure and v.own_line = e.own_line
where m.kind = 'number' and m.measure in (select unnest($measures))
order by v.athlete_id, v.measure, v.held_on, v.own_line;
