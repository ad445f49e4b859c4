-- Reversed sensors that wait for a decision.
select distinct athlete_id, measured_on, replace(measure, '_peak_speed', '') as segment
from held_row
where state = 'open' and rule in ('reversed_sensor', 'all_reversed') and athlete_id is not null and measured_on is not null
order by all
