select on_date from test_day where camp_id = $camp order by on_date;
