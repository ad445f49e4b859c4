select plan_id, version, athlete_id, stay_id, start_on, start_kg, target_on, target_kg, ended_on, purpose,
       made_by, approved_by, reason
from plan
qualify row_number() over (partition by plan_id order by version desc) = 1
order by plan_id
