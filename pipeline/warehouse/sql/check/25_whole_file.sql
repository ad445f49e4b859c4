-- A whole column in another unit: most athletes' values off by the same factor against their other files, or, where
-- they have none, outside what is plausible at their age and inside it by that factor.
create temp table file_ratio as
with per_import as (
    select import_id, athlete_id, measure, unit, median(value) as middle
    from checked where unit is not null group by import_id, athlete_id, measure, unit
),
others as (
    select a.import_id, a.athlete_id, a.measure, a.unit, a.middle, median(b.middle) as elsewhere
    from per_import a
    join per_import b on b.athlete_id = a.athlete_id and b.measure = a.measure and b.import_id <> a.import_id
    group by a.import_id, a.athlete_id, a.measure, a.unit, a.middle
)
select
    o.import_id, o.measure, o.unit, m.factor, m.other_unit,
    count(*) as n,
    count(*) filter (abs(o.middle * m.factor / o.elsewhere - 1) < 0.12) as fitting,
    median(abs(ln(abs(o.middle * m.factor / nullif(o.elsewhere, 0))))) as apart
from others o
join multiplier m on m.measure = o.measure and m.unit = o.unit and m.rule = 'unit_slip'
group by o.import_id, o.measure, o.unit, m.factor, m.other_unit;

create temp table band_ratio as
with per_day as (
    select import_id, athlete_id, measure, unit, sport, median(value) as middle, min(on_date) as on_date
    from checked where unit is not null and value > 0
    group by import_id, athlete_id, measure, unit, sport
),
plausible as (
    select p.*, b.low, b.high
    from per_day p join athlete a using (athlete_id)
    join band b on b.measure = p.measure and b.sport in (p.sport, 'any')
        and datediff('day', a.birth_date, p.on_date) / 365.25 >= b.age_low
        and datediff('day', a.birth_date, p.on_date) / 365.25 < b.age_high
    anti join per_day e on e.athlete_id = p.athlete_id and e.measure = p.measure and e.import_id <> p.import_id
    qualify row_number() over (
        partition by p.import_id, p.athlete_id, p.measure, p.unit order by b.sport = 'any', b.age_low
    ) = 1
)
select
    p.import_id, p.measure, p.unit, m.factor, m.other_unit,
    count(*) as n,
    count(*) filter (
        not p.middle between 0.95 * p.low and 1.05 * p.high
        and p.middle * m.factor between 0.85 * p.low and 1.15 * p.high
    ) as fitting,
    median(abs(ln(p.middle * m.factor / ((p.low + p.high) / 2)))) as apart
from plausible p
join multiplier m on m.measure = p.measure and m.unit = p.unit and m.rule = 'unit_slip'
group by p.import_id, p.measure, p.unit, m.factor, m.other_unit;

create temp table whole_file as
select import_id, measure, unit, factor, other_unit, n, fitting from (
    select *, row_number() over (partition by import_id, measure, unit order by fitting desc, apart) as position
    from (select * from file_ratio union all select * from band_ratio) where n >= 5 and fitting >= 0.8 * n
) where position = 1;

-- What a whole-file question will settle is no evidence about anybody's own values.
create temp table asked_whole as
select c.seq, c.import_id || ':' || c.measure || ':' || w.other_unit as group_id, w.factor, w.other_unit, 'whole_file_unit' as rule
from checked c join whole_file w using (import_id, measure, unit);
delete from checked where seq in (select seq from asked_whole);
