-- The nearest date of each line that a projection was made for.
select athlete_id, measure, line, value, low, high, level, target_on, made_on
from projection where kind = 'date' and verdict = 'shown'
qualify row_number() over (partition by athlete_id, measure, line order by made_on desc, target_on) = 1;
