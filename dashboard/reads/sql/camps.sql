select camp_id, label, starts_on, ends_on, place
from camp
order by starts_on desc, camp_id
