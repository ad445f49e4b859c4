-- The same value of the same trial seen before, in this or an earlier file.
create temp table recognised as
select seq, first_seq from (
    select
        seq,
        first_value(seq) over same_reading as first_seq,
        row_number() over same_reading as position
    from candidate
    where athlete_id is not null and measure is not null and on_date is not null and value is not null
    window same_reading as (
        partition by athlete_id, measure, line, on_date, time_text, trial, value, raw_unit order by seq
    )
) where position > 1;

create temp table checked as
select c.* from candidate c anti join recognised r using (seq)
where c.row_rule is null and c.kind = 'number';
