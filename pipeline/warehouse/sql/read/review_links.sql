select measure, line, per_kg, low, high, level, n_athletes, verdict, reason
from mass_link where scope = 'program' and adjustment = 'time';
