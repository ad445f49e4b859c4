select measure, label, family, unit, better, kind, resolution, decimals, trials, summary, keep, source, position
from measure
order by position
