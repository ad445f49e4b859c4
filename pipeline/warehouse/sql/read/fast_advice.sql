-- What the decision table asks beside a review: growth in height so far, and the last decision's notes, by plan.
select
    a.plan_id, a.height_change, d.decision, coalesce(d.attendance_poor, false) as attendance_poor
from plan_advice a
left join (
    select * from plan_decision
    qualify row_number() over (partition by plan_id order by decided_at desc, event_id desc) = 1
) d using (plan_id)
where list_contains($plans, a.plan_id)
