select * from weighin_use
where athlete_id = $athlete_id
order by measured_on
