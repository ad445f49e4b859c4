select * from relative_strength
where athlete_id = $athlete_id
order by stay_id, measure, line
