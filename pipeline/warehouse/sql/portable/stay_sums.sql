-- What the mixed model of each line needs to know about each stay: products of the constant, time, the intake day and
-- the session value, over its sessions. Written in what DuckDB and Spark both read. The table trial_value has one row
-- a trial: measure, line, stay_id, day (since 1970), weeks (since arrival, may be null), is_intake, summary, keep and
-- better (of the measure), value. Time and value are centred over the line, so that their products keep their digits.
with usable as (
    select * from trial_value where value is not null and stay_id is not null
),
ranked as (
    select *, row_number() over (
        partition by measure, line, stay_id, day order by case when better = 'lower' then value else -value end
    ) as place
    from usable where summary = 'mean of best'
),
session_value as (
    select measure, line, stay_id, day, min(weeks) as weeks, max(case when is_intake then 1.0e0 else 0.0e0 end) as i,
        case min(summary)
            when 'median' then median(value)
            when 'mean' then avg(value)
            else case when min(better) = 'lower' then min(value) else max(value) end
        end as value
    from usable where summary <> 'mean of best'
    group by measure, line, stay_id, day
    union all
    select measure, line, stay_id, day, min(weeks), max(case when is_intake then 1.0e0 else 0.0e0 end), avg(value)
    from ranked where place <= keep
    group by measure, line, stay_id, day
),
timed as (
    select measure, line, stay_id, i, value,
        coalesce(weeks, (day - min(day) over (partition by measure, line, stay_id)) / 7.0e0) as weeks
    from session_value
),
middle_of_line as (
    select measure, line, avg(weeks) as mean_weeks, avg(value) as mean_value
    from timed
    group by measure, line
),
centred as (
    select s.measure, s.line, s.stay_id, m.mean_weeks, m.mean_value,
        s.weeks - m.mean_weeks as t, s.i, s.value - m.mean_value as y
    from timed s join middle_of_line m on s.measure = m.measure and s.line = m.line
)
select measure, line, stay_id, min(mean_weeks) as mean_weeks, min(mean_value) as mean_value,
    cast(count(*) as double) as n, sum(t) as st, sum(i) as si, sum(y) as sy,
    sum(t * t) as stt, sum(t * i) as sti, sum(t * y) as sty, sum(i * i) as sii, sum(i * y) as siy, sum(y * y) as syy
from centred
group by measure, line, stay_id
order by measure, line, stay_id
