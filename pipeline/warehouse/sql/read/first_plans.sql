-- The day on which each athlete's first plan at a camp began, as it was first made, also where it was ended later.
select plan.athlete_id, stay.camp_id, min(plan.start_on) as start_on
from (select * from plan qualify version = min(version) over (partition by plan_id)) as plan
join stay using (stay_id)
group by plan.athlete_id, stay.camp_id
order by stay.camp_id, plan.athlete_id
