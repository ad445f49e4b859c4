select r.plan_id, r.athlete_id, r.stay_id, r.status, coalesce(any_value(a.table_row), '') as table_row
from plan_review as r left join plan_advice as a using (plan_id)
group by all order by r.plan_id
