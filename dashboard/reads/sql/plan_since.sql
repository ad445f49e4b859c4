select * from plan_since
