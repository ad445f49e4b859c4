-- Four or more neighbouring rows with one value for different athletes: copied down.
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
select r.seq from runs r join counted using (import_id, field, measure, raw_value, run)
