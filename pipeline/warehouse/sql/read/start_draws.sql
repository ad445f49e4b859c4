select camp_id, place, athlete_id, start_on from start_draw order by camp_id, place
