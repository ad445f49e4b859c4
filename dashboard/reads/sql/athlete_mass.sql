select * from mass_trend
where athlete_id = $athlete_id
order by on_date
