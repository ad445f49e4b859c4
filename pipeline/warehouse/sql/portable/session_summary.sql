-- The session values of a build (sql/rule), in what DuckDB and Spark both read. The table trial_value has one row a
-- trial: session_id, athlete_id, measure, own_line, value, and summary, keep and better of the measure.
with placed as (
    {placed}
)
select session_id, athlete_id, measure, own_line,
    {own_value} as own_value,
    {best} as best,
    cast(count(*) as integer) as n_trials,
    case when count(*) > 1 then stddev_samp(value) end as trial_sd
from placed
group by session_id, athlete_id, measure, own_line
