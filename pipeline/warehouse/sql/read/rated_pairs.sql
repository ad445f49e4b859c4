-- Ratings by name, one for each athlete, day, line and rater: the middle one where several clips were rated.
select athlete_id, observed_on, measure, line, lower(rater) as rater, min(rater) as name,
       quantile_disc(grade, 0.5)::integer as grade
from observation where rater <> ''
group by athlete_id, observed_on, measure, line, lower(rater)
order by all;
