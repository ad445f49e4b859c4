-- The birth date of every athlete.
select athlete_id, birth_date from athlete order by athlete_id
