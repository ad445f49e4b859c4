select plan_id, version, athlete_id, stay_id, start_on, start_kg, target_on, target_kg, ended_on, purpose, made_by,
       approved_by, reason
from plan where plan_id = $plan_id order by version
