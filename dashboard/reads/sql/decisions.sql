select decision_id, decided_at, decided_by, action, target, argument, why, applied
from decision
order by decided_at desc
limit 200
