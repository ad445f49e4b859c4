select stay_id, athlete_id, camp_id, arrived_on, left_on, planned_until, left_early, leave_reason
from stay
order by arrived_on, stay_id
