-- The version in force of every plan that was not ended.
select * from plan
qualify version = max(version) over (partition by plan_id) and ended_on is null
order by plan_id
