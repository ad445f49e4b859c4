select * from athlete_link
where athlete_id = $athlete_id
order by stay_id, measure, line
