-- Four or more neighbouring rows with one value for different athletes: copied down.
create temp table copied as
with placed as (
    select seq, import_id, field, measure, raw_value, athlete_id,
        row_number() over rows as place,
        lag(raw_value) over rows as above,
        lead(raw_value) over rows as below
    from checked where canonical_unit not in ('1', 'ms')
    window rows as (partition by import_id, field, measure order by seq)
),
runs as (
    select *, place - row_number() over (partition by import_id, field, measure, raw_value order by seq) as run
    from placed where raw_value in (above, below)
),
counted as (
    select import_id, field, measure, raw_value, run
    from runs group by all having count(*) >= 4 and count(distinct athlete_id) = count(*)
)
select r.seq from runs r join counted using (import_id, field, measure, raw_value, run);

-- Two athletes of one file and day whose values fit when exchanged.
create temp table swapped as
select a.seq, b.athlete_id as other_athlete
from suspect a join suspect b
    on a.import_id = b.import_id and a.measure = b.measure and a.line = b.line and a.on_date = b.on_date
    and a.athlete_id <> b.athlete_id
where a.jumps and b.jumps
    and abs(a.value - b.own) <= greatest(4 * a.unit_error, 0.02 * b.own)
    and abs(b.value - a.own) <= greatest(4 * a.unit_error, 0.02 * a.own)
qualify row_number() over (partition by a.seq order by abs(a.value - b.own)) = 1;

-- A height that falls, or stands out above both neighbours.
create temp table shrunk as
select c.seq
from checked c join expected e using (athlete_id, measure, line, on_date)
where c.measure = $standing_height
    and ((e.before - e.middle > 1.0 and (e.after is null or e.after - e.middle > 0.5))
        or (e.middle - e.after > 1.0 and e.middle - e.before > 1.0));

-- Splits of one run that do not rise with the distance: the split that stands out, else all of the run.
create temp table disordered as
with runs as (
    select athlete_id, on_date, trial, import_id,
        max(value) filter (measure = $short) as short,
        max(value) filter (measure = $middle) as middle,
        max(value) filter (measure = $long) as long
    from checked where measure in ($short, $middle, $long)
    group by athlete_id, on_date, trial, import_id
),
broken as (
    select c.seq, c.athlete_id, c.on_date, c.trial, c.import_id, s.seq is not null as stands_out
    from checked c join runs r using (athlete_id, on_date, trial, import_id)
    left join suspect s using (seq)
    where c.measure in ($short, $middle, $long)
        and (r.short >= r.middle or r.middle >= r.long or r.short >= r.long)
)
select seq from broken
qualify stands_out or not bool_or(stands_out) over (partition by athlete_id, on_date, trial, import_id);

-- Two readings within a minute that differ by no more than the instrument's last digit.
create temp table near_twice as
select seq from (
    select c.seq, c.value, c.clock_time, m.resolution,
        lag(c.value) over w as earlier_value, lag(c.clock_time) over w as earlier_time, lag(c.trial) over w as earlier_trial, c.trial
    from checked c join measure m using (measure)
    where c.clock_time is not null and m.trials = 1
    window w as (partition by c.athlete_id, c.measure, c.line, c.on_date order by c.clock_time, c.seq)
)
where datediff('second', earlier_time, clock_time) between 0 and 60
    and abs(value - earlier_value) <= 1.01 * resolution;
