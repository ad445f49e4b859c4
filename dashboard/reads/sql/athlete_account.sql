select * from account_row
where athlete_id = $athlete_id
order by stay_id, measure, line, position
