select * from retest_advice
where athlete_id = $athlete_id
order by stay_id, measure, line, extra
