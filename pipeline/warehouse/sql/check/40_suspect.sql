-- Values far from what is expected, or outside what a person can do.

-- A first value has nothing of its own to lie far from: but where it lies beyond all other athletes of its file and day by a
-- quarter of the farthest of five or more, and among them in another unit, that shows. The quarter: common practice, no
-- source; tried on the demo.
create or replace temp table slipped_of_day as
with first_ones as (
    select c.seq, c.import_id, c.measure, c.line, c.on_date, c.athlete_id, c.unit, c.value, c.hard_low, c.hard_high
    from checked c
    left join expected e using (athlete_id, measure, line, on_date)
    where coalesce(e.own, e.season, e.before, e.after) is null
),
middles as (
    select import_id, measure, line, on_date, athlete_id, unit, median(value) as middle
    from checked semi join first_ones using (import_id, measure, line, on_date)
    group by all
),
others as (
    select *, min(middle) over beside as day_low, max(middle) over beside as day_high, count(*) over beside as day_n
    from middles
    window beside as (
        partition by import_id, measure, line, on_date order by athlete_id, unit
        rows between unbounded preceding and unbounded following exclude current row
    )
)
select f.seq, min(o.day_low) as day_low, max(o.day_high) as day_high
from first_ones f
join others o using (import_id, measure, line, on_date, athlete_id, unit)
join multiplier m on m.measure = f.measure and m.unit = f.unit and m.rule = 'unit_slip'
where o.day_n >= 5 and o.day_low > 0
    and (f.value > 1.25 * o.day_high or f.value < o.day_low / 1.25)
    and f.value * m.factor between greatest(o.day_low, f.hard_low) and least(o.day_high, f.hard_high)
group by f.seq;

create or replace temp table measured_against as
with measured as (
    select
        c.seq, c.import_id, c.row_no, c.field, c.athlete_id, c.measure, c.line, c.on_date, c.value, c.number, c.unit,
        c.raw_value, c.hard_low, c.hard_high, c.family, c.better, c.canonical_unit, c.sport, c.sex,
        e.middle as session_middle, e.n as session_n,
        coalesce(e.own, e.season) as own,
        case when e.own is null then j.season_allowance else j.allowance end as allowance,
        greatest(coalesce(c.typical_error, 0), coalesce(case when s.n >= 8 then s.day_scatter end, 0)) as unit_error,
        greatest(1.3, 1 + 8 * coalesce(t.relative, 0)) as ratio_limit,
        greatest(case when c.better = 'neither' then 0.01 else 0.04 end, 8 * coalesce(t.relative, 0)) as near_limit,
        case when e.n = 2 then c.value / nullif(2 * e.middle - c.value, 0) when e.n > 2 then c.value / nullif(e.middle, 0) end
            as to_others,
        d.low as crowd_low, d.high as crowd_high, d.n as crowd_n,
        case when e.own is null and e.season is null then coalesce(e.before, e.after) end as only_other
    from checked c
    left join expected e using (athlete_id, measure, line, on_date)
    left join scatter s using (measure)
    left join jump j using (measure)
    left join trial_scatter t using (measure)
    left join crowd d on d.measure = c.measure and d.line = c.line
        and d.sport is not distinct from c.sport and d.sex is not distinct from c.sex
),
judged as (
    select *,
        value > hard_high
            or value < hard_low and not (better = 'higher' and session_n >= 3 and value > 0.2 * session_middle)
            as out_of_range,
        own is not null and canonical_unit <> 'ms' and allowance > 0 and abs(value - own) > allowance
            and (session_n < 3 or abs(session_middle - own) > allowance or value > session_middle * ratio_limit) as jumps,
        session_n >= 2 and session_middle > 0 and hard_low >= 0 and canonical_unit <> 'ms' and case
            when better = 'neither' and canonical_unit = 'cm' then session_n >= 3 and abs(to_others - 1) > near_limit
            when better = 'lower'
                then to_others > ratio_limit or to_others < 1 - near_limit and value < coalesce(own, value) * (1 - near_limit)
            else session_n >= 3 and (to_others > ratio_limit or to_others < 0.4)
        end as unlike_trials
    from measured
)
select * from judged left join slipped_of_day using (seq)
where out_of_range or jumps or unlike_trials or only_other > 0 or day_low is not null;

-- One other day does not tell what is usual, but a unit's factor between the two days shows.
create or replace temp table slipped as
select distinct a.seq
from measured_against a
join multiplier m on m.measure = a.measure and m.unit = a.unit and m.rule = 'unit_slip'
where a.only_other > 0 and a.value > 0 and abs(a.value * m.factor / a.only_other - 1) < 0.12
    and abs(a.session_middle * m.factor / a.only_other - 1) < 0.12;  -- not one mishit among good trials

create or replace temp table suspect as
select * from (select *, seq in (select seq from slipped) or day_low is not null as slips from measured_against)
where out_of_range or jumps or unlike_trials or slips;

-- The fix, if any, that brings a suspect back to the athlete's own values.
create or replace temp table mend as
select seq, rule, proposed, other_unit from (
    select
        s.seq, m.rule, s.value * m.factor as proposed, m.other_unit,
        row_number() over (
            partition by s.seq order by abs(s.value * m.factor - coalesce(s.own, case when s.slips then s.only_other end, s.session_middle)), m.rule desc
        ) as position
    from suspect s
    join multiplier m on m.measure = s.measure and m.unit = s.unit
    where s.value * m.factor between s.hard_low and s.hard_high
        and (m.rule <> 'lost_point' or not contains(s.raw_value, '.') and not contains(s.raw_value, ','))
        and case
            when s.own is not null
                then abs(s.value * m.factor - s.own) <= greatest(4 * s.unit_error, 0.04 * s.own)
                    or s.session_n >= 3 and abs(s.value * m.factor / nullif(s.session_middle, 0) - 1) < 0.12
            when s.day_low is not null then m.rule = 'unit_slip' and s.value * m.factor between s.day_low and s.day_high
            when s.slips then m.rule = 'unit_slip' and abs(s.value * m.factor / s.only_other - 1) < 0.12
            when s.session_n >= 3 and s.unlike_trials
                then abs(s.value * m.factor / nullif(s.session_middle, 0) - 1) < 0.12
            else s.crowd_n >= 20 and s.value * m.factor between s.crowd_low and s.crowd_high
        end
) where position = 1;
