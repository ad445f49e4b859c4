select observed_on, measure, rating, import_id
from observation
where athlete_id = $athlete_id
order by observed_on desc, measure
