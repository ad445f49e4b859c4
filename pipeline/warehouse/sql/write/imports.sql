-- One row per import with what became of its rows; the four parts add up to rows_in.
insert into import by name
with taken as (
    select import_id, count(*) as n from (
        select import_id from reading union all select import_id from observation
        union all select import_id from people_taken
    ) group by import_id
),
held as (
    select import_id, count(*) filter (state = 'open') as open,
        count(*) filter (state in ('rejected', 'replaced')) as rejected
    from held_row group by import_id
),
again as (select import_id, count(*) as n from recognised_row group by import_id)
select
    i.*,
    coalesce(t.n, 0) as rows_taken,
    coalesce(h.open, 0) as rows_held,
    coalesce(a.n, 0) as rows_recognised,
    coalesce(h.rejected, 0) as rows_rejected
from incoming i
left join taken t using (import_id)
left join held h using (import_id)
left join again a using (import_id)
order by i.received_at, i.import_id;
