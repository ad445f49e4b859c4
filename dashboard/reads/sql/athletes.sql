select athlete_id, display_name, birth_date, sex, sport, graduation_year, positions, bats, throws
from athlete
order by display_name, athlete_id
