select measure, from_line, to_line, shift, shift_se, n_pairs, usable, reason
from bridge
order by measure, from_line
