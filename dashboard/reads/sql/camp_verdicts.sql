select athlete_id, n_sessions, z, verdict from trend
where camp_id = $camp_id and verdict <> 'too few sessions' and low is not null and high > low
order by athlete_id, measure, line
