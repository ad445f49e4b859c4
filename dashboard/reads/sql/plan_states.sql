select * from plan_state
