-- What the athlete's own other sessions, and this session's other trials, lead us to expect.
create or replace temp table day_value as
select athlete_id, measure, line, on_date, any_value(stay_id) as stay_id, median(value) as middle, count(*) as n,
    list(value order by value) as trials
from checked
group by athlete_id, measure, line, on_date;

-- Medians over single trials, so that one bad trial of two does not stand for its session. Where a stay has too few
-- days near by, the 100 days before and after stand in, whatever the stay.
create or replace temp table expected as
with judged as (
    select
        athlete_id, measure, line, on_date, middle, n,
        case when count(*) over near_by >= 2 then list_median(flatten(list(trials) over near_by)) end as own
    from day_value
    window near_by as (
        partition by athlete_id, measure, line, stay_id order by on_date
        rows between 5 preceding and 5 following exclude current row
    )
),
near_by as (
    select *, lag(middle) over in_time as before, lead(middle) over in_time as after
    from judged window in_time as (partition by athlete_id, measure, line order by on_date)
),
in_season as (
    select n.athlete_id, n.measure, n.line, n.on_date, list_median(flatten(list(d.trials))) as season
    from near_by n
    join day_value d
        on d.athlete_id = n.athlete_id and d.measure = n.measure and d.line = n.line and d.on_date <> n.on_date
        and d.on_date between n.on_date - 100 and n.on_date + 100
    where n.own is null
    group by n.athlete_id, n.measure, n.line, n.on_date having count(*) >= 2
)
select n.*, s.season from near_by n left join in_season s using (athlete_id, measure, line, on_date);

-- Usual day-to-day scatter of a measure, and usual scatter of trials within a session.
create or replace temp table scatter as
select
    e.measure,
    1.4826 * median(abs(e.middle - e.own)) filter (e.own is not null) as day_scatter,
    count(e.own) as n
from expected e group by e.measure;

-- How far a value may lie from what its athlete's own sessions lead us to expect: eight typical errors, or six times
-- the scatter seen. The same distances decide about values typed on a screen (ingest/logs/typed_doubt.py).
create or replace temp table jump as
select
    m.measure,
    greatest(8 * coalesce(m.typical_error, 0), 6 * coalesce(s.day_scatter, 0)) as allowance,
    1.5 * greatest(8 * coalesce(m.typical_error, 0), 6 * coalesce(s.day_scatter, 0)) as season_allowance
from known_measure m left join scatter s using (measure);

create or replace temp table trial_scatter as
select c.measure, 1.4826 * median(abs(c.value / e.middle - 1)) as relative
from checked c join expected e using (athlete_id, measure, line, on_date)
where e.n >= 3 and e.middle > 0
group by c.measure;

create or replace temp table crowd as
select measure, line, sport, sex, quantile_cont(value, 0.02) as low, quantile_cont(value, 0.98) as high,
    median(value) as middle, count(*) as n
from checked group by measure, line, sport, sex;
