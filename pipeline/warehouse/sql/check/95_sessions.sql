-- From here on all is in the tables that stay.
drop view settled;
drop view accepted;
drop table candidate;
drop table outcome;

-- Sessions, lines and the one value of each session that enters the statistics.
insert into session
with dated as (
    select distinct session_id, athlete_id, measured_on as held_on from reading
    union
    select distinct session_id, athlete_id, observed_on from observation
),
placed as (
    select d.*, t.stay_id, t.camp_id, t.arrived_on, t.left_on
    from dated d
    asof left join (select *, arrived_on - 3 as opens_on from stay) t
        on d.athlete_id = t.athlete_id and d.held_on >= t.opens_on
)
select
    session_id, athlete_id, held_on,
    case when left_on is null or held_on <= left_on + 3 then stay_id end,
    case when left_on is null or held_on <= left_on + 3 then camp_id end,
    case when left_on is null or held_on <= left_on + 3 then (held_on - arrived_on) / 7.0 end,
    coalesce(held_on <= arrived_on + 3, false)
from placed order by session_id;

insert into line
select r.measure, r.line, '', r.line, min(r.measured_on), max(r.measured_on), count(*), count(distinct r.athlete_id)
from reading r group by r.measure, r.line order by r.measure, r.line;
