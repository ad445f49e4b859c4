select * from plan_advice
