select * from growth_share
where athlete_id = $athlete_id
order by stay_id, span
