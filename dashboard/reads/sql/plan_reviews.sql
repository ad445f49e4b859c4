select * from plan_review
order by plan_id
