-- What coaches rated within the days of a stay; where two rated one day otherwise, both words.
with word as (
    select o.observed_on, o.measure, o.rating, o.grade, min(o.import_id) as import_id
    from observation o join stay s using (athlete_id)
    where s.stay_id = $stay and o.observed_on between s.arrived_on and coalesce(s.left_on, date '9999-12-31')
    group by all
)
select observed_on, measure, string_agg(rating, ' or ' order by grade) as rating, min(import_id) as import_id
from word group by observed_on, measure
order by observed_on, measure, rating, import_id;
