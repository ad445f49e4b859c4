select s.athlete_id, s.camp_id, s.stay_id, c.label
from stay s join camp c using (camp_id)
order by s.athlete_id, s.arrived_on;
