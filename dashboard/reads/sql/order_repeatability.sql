select * exclude (build_id) from order_repeatability order by action, line, is_whole desc, part
