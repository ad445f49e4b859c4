select * from trend
where athlete_id = $athlete_id
order by first_on desc, measure, line
