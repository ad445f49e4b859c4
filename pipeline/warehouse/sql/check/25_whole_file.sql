-- A whole column in another unit: most athletes' values off by the same factor against their other files.
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
    count(*) filter (abs(o.middle * m.factor / o.elsewhere - 1) < 0.12) as fitting
from others o
join multiplier m on m.measure = o.measure and m.unit = o.unit and m.rule = 'unit_slip'
group by o.import_id, o.measure, o.unit, m.factor, m.other_unit;

create temp table whole_file as
select import_id, measure, unit, factor, other_unit, n, fitting from (
    select *, row_number() over (partition by import_id, measure, unit order by fitting desc) as position
    from file_ratio where n >= 5 and fitting >= 0.8 * n
) where position = 1;

-- What a whole-file question will settle is no evidence about anybody's own values.
create temp table asked_whole as
select c.seq, c.import_id || ':' || c.measure || ':' || w.other_unit as group_id, w.factor, w.other_unit, 'whole_file_unit' as rule
from checked c join whole_file w using (import_id, measure, unit);
delete from checked where seq in (select seq from asked_whole);
