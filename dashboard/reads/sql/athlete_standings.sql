select * from peer_standing
where athlete_id = $athlete_id
order by measure, as_of desc, line
