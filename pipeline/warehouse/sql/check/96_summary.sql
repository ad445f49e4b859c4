-- The value of each session by the rule of sql/rule. Trials are listed in a fixed order first,
-- so that sums come out the same to the last bit however many threads there are.
create temp table summed as
with listed as (
    select
        session_id, athlete_id, measure, line as own_line,
        list(value order by trial, import_id, row_no, field) as trials,
        array_to_string(list_sort(list_distinct(list(import_id))), ' ') as imports
    from reading where not set_aside
    group by session_id, athlete_id, measure, line
)
select
    l.session_id, l.athlete_id, l.measure, l.own_line,
    {own_value} as own_value,
    {best} as best,
    len(l.trials)::integer as n_trials,
    case when len(l.trials) > 1 then list_stddev_samp(l.trials) end as trial_sd,
    l.imports
from listed l join measure m using (measure);
