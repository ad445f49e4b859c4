select * from guard_retest
order by plan_id, measure, line, extra
