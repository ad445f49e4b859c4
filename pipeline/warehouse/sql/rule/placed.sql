select *, cast(null as bigint) as place from trial_value where summary <> 'mean of best' and value is not null
union all
select *, row_number() over (
    partition by {keys} order by case when better = 'lower' then value else -value end
) as place
from trial_value where summary = 'mean of best' and value is not null
