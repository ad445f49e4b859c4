select * from peer_neighbour
where athlete_id = $athlete_id
order by measure, line, weight desc
