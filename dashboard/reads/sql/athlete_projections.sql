select * from projection
where athlete_id = $athlete_id
order by made_on desc, measure, line, kind
