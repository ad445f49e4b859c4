select a.birth_date, coalesce(g.stage, ''), coalesce((select max(version) from plan where plan_id = $plan_id), 0)
from athlete a left join growth_stage g using (athlete_id)
where a.athlete_id = $athlete_id
