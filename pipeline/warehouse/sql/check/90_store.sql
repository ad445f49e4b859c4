-- Taken values become readings; everything else is kept with its reason.
insert into reading
select
    o.import_id, o.row_no, o.field, o.athlete_id, o.athlete_id || '@' || o.on_date, o.measure, o.line, o.conditions,
    o.on_date,
    coalesce(
        o.zoned_time,
        case when o.clock_time is not null then timezone(coalesce(p.time_zone, $time_zone), o.on_date + o.clock_time) end
    ),
    o.trial, o.raw_value, o.raw_unit, o.final_value,
    case when o.state = 'mended' then o.rule end,
    o.state <> 'taken',
    o.set_aside
from outcome o
left join camp p using (camp_id)
where o.kind = 'number' and o.state in ('taken', 'accepted', 'mended', 'assigned')
order by o.seq;

insert into observation
select
    o.import_id, o.row_no, o.field, o.athlete_id, o.athlete_id || '@' || o.on_date, o.on_date, o.measure,
    n.rating, o.final_value::integer, o.conditions
from outcome o join grade n on n.measure = o.measure and n.grade = o.final_value::integer
where o.kind = 'rating' and o.state in ('taken', 'accepted', 'mended', 'assigned')
order by o.seq;

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
