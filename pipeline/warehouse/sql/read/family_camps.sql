select s.stay_id, c.label from stay s join camp c using (camp_id) where s.athlete_id = $athlete;
