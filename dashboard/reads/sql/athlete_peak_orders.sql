select * exclude (build_id) from peak_order where athlete_id = $athlete_id
order by measured_on, action, line, is_whole desc, part
