select measure, line, label, joined_to
from line
order by measure, line
