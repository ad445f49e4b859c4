select athlete_id, display_name, birth_date, sport, graduation_year, positions, bats, throws
from athlete order by athlete_id;
