select m.*
from mass_trend m
where m.stay_id in (select stay_id from plan_review)
order by m.stay_id, m.on_date
