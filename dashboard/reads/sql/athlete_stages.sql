select * from peer_stage
where athlete_id = $athlete_id
order by measure, line, as_of desc, basis
