drop table cell;  -- all that it says stands in candidate

-- Values that are of one trial with another: few, and found by one number each.
create temp table same_trial as
with keyed as (
    select seq, hash(athlete_id, measure, line, on_date, time_text, trial, lower(rater)) as keys
    from candidate where athlete_id is not null and measure is not null and on_date is not null
)
select seq from keyed semi join (select keys from keyed group by keys having count(*) > 1) using (keys);

-- The same row of text, or the same value of the same trial, seen before in this or an earlier file. A place in a
-- list says nothing across files: two cages of one day both have a slot 1.
create temp table recognised as
with again as (
    select
        seq,
        first_value(seq) over same_text as first_seq,
        row_number() over same_text as position
    from candidate
    where row_rule is not null or assigned
        or (athlete_text, date_text, raw_value) in (
            select (athlete_text, date_text, raw_value) from candidate where assigned
        )
    window same_text as (
        partition by athlete_text, case when slot then import_id end, measure_text, line, date_text, on_date, time_text, trial, raw_value, raw_unit,
            lower(rater_text)
        order by seq
    )
    union all
    select
        seq,
        first_value(seq) over same_reading,
        row_number() over same_reading
    from candidate semi join same_trial using (seq)
    where value is not null
    window same_reading as (
        partition by athlete_id, measure, line, on_date, time_text, trial, value, raw_unit, lower(rater) order by seq
    )
)
select seq, min(first_seq) as first_seq from again where position > 1 group by seq;

create temp table checked as
select
    c.seq, c.import_id, c.row_no, c.field, c.athlete_id, c.stay_id, c.measure, c.line, c.on_date, c.clock_time, c.trial,
    c.raw_value, c.number, c.value, c.unit, c.canonical_unit, c.hard_low, c.hard_high, c.typical_error, c.family,
    c.better, c.sport, c.sex
from candidate c anti join recognised r using (seq)
where c.row_rule is null and c.kind = 'number';
