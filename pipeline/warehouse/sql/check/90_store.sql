-- What is taken, as measured or as corrected.
create temp view accepted as
select c.*, coalesce(o.mended, c.value) as final_value, case when o.state = 'mended' then o.rule end as mend,
    o.seq is not null as decided
from candidate c
left join outcome o using (seq)
anti join recognised r using (seq)
where o.seq is null or o.state in ('accepted', 'mended', 'assigned');

-- Taken values become readings; everything else is kept with its reason.
insert into reading
select
    c.import_id, c.row_no, c.field, c.athlete_id, c.athlete_id || '@' || c.on_date, c.measure, c.line, c.conditions,
    c.on_date,
    coalesce(
        c.zoned_time,
        case when c.clock_time is not null then timezone(coalesce(p.time_zone, $time_zone), c.on_date + c.clock_time) end
    ),
    c.trial, c.raw_value, c.raw_unit, c.final_value, c.mend, c.decided, c.set_aside
from accepted c
left join camp p using (camp_id)
where c.kind = 'number'
order by c.seq;

insert into observation
select
    c.import_id, c.row_no, c.field, c.athlete_id, c.athlete_id || '@' || c.on_date, c.on_date, c.measure,
    n.rating, c.final_value::integer, c.conditions, c.line, c.rater
from accepted c
join grade n on n.measure = c.measure and n.grade = c.final_value::integer
where c.kind = 'rating'
order by c.seq;

insert into recognised_row
select c.import_id, c.row_no, c.field, f.import_id, f.row_no
from (
    select seq, first_seq from recognised
    union all select seq, first_seq from outcome where state = 'recognised'
) r
join candidate c using (seq) join candidate f on f.seq = r.first_seq
order by c.seq;

insert into jump_allowance
select measure, j.allowance, j.season_allowance
from jump j join measure m using (measure)
where j.allowance > 0 and m.unit <> 'ms'
order by measure;
