select * from athlete order by athlete_id
