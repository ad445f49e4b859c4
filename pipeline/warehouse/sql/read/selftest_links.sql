select line, per_kg, low, high, n_athletes, verdict, reason
from mass_link where measure = 'exit_speed' and scope = 'program' and adjustment = 'time'
order by n_athletes desc, line limit 3
