select * exclude (build_id) from order_change where athlete_id = $athlete_id
order by to_on, action, line, since, is_whole desc, part
