select w.*
from weighin_use w
where w.stay_id in (select stay_id from plan_review)
order by w.stay_id, w.measured_on
