-- What the mixed model of each line needs to know about each stay: products of the constant, time, the intake day and
-- the session value, over its sessions. Written in what DuckDB and Spark both read. The table trial_value has one row
-- a trial: measure, line, stay_id, day (since 1970), weeks (since arrival, may be null), is_intake, summary, keep and
-- better (of the measure), value. Time and value are centred over the line, so that their products keep their digits.
with placed as (
    {placed}
),
session_value as (
    select measure, line, stay_id, day, min(weeks) as weeks, max(case when is_intake then 1.0e0 else 0.0e0 end) as i,
        {own_value} as value
    from placed where stay_id is not null
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
