-- Splits of one run that do not rise with the distance: the split that stands out, else all of the run.
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
qualify stands_out or not bool_or(stands_out) over (partition by athlete_id, on_date, trial, import_id)
