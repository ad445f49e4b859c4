-- What coaches rated within the days of a stay.
select o.observed_on, o.measure, o.rating, o.import_id
from observation o join stay s using (athlete_id)
where s.stay_id = $stay and o.observed_on between s.arrived_on and coalesce(s.left_on, date '9999-12-31')
order by o.observed_on, o.measure, o.rating;
