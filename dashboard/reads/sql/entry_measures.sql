select measure, label, unit, resolution, decimals, trials, hard_low, hard_high
from measure
where kind = 'number'
order by position
