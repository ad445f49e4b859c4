-- The birth date of one athlete.
select birth_date from athlete where athlete_id = $athlete_id
