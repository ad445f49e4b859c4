-- Session summaries as an engine added them up, beside the imports that they came from.
create temp table summed as
with origin as (
    select session_id, athlete_id, measure, line as own_line,
        string_agg(distinct import_id, ' ' order by import_id) as imports
    from reading where not set_aside
    group by session_id, athlete_id, measure, line
)
select e.session_id, e.athlete_id, e.measure, e.own_line, e.own_value, e.best, e.n_trials, e.trial_sd, o.imports
from engine_summary e join origin o using (session_id, athlete_id, measure, own_line)
