-- The summary over the trials of a session that the catalogue asks for, in what DuckDB and Spark both read. The table
-- trial_value has one row a trial: session_id, athlete_id, measure, own_line, value, and summary, keep and better of the
-- measure. DuckDB's own check/96_summary.sql says the same with lists, so that its last bits do not hang on threads.
with ranked as (
    select *, row_number() over (
        partition by session_id, athlete_id, measure, own_line
        order by case when better = 'lower' then value else -value end
    ) as place
    from trial_value
)
select session_id, athlete_id, measure, own_line,
    case min(summary)
        when 'median' then median(value)
        when 'mean' then avg(value)
        when 'mean of best' then avg(case when place <= keep then value end)
        else case when min(better) = 'lower' then min(value) else max(value) end
    end as own_value,
    case when min(better) = 'lower' then min(value) else max(value) end as best,
    cast(count(*) as integer) as n_trials,
    case when count(*) > 1 then stddev_samp(value) end as trial_sd
from ranked
group by session_id, athlete_id, measure, own_line
