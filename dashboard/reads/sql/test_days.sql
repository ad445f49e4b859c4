select camp_id, on_date from test_day
order by camp_id, on_date
