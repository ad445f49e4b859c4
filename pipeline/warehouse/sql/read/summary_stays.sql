select athlete_id, camp_id from stay order by athlete_id, arrived_on;
