-- The summary over the trials of a session that the catalogue asks for. Trials are listed in a fixed order first,
-- so that sums come out the same to the last bit however many threads there are.
create temp table summed as
with listed as (
    select
        session_id, athlete_id, measure, line as own_line,
        list(value order by trial, import_id, row_no, field) as trials,
        string_agg(distinct import_id, ' ' order by import_id) as imports
    from reading where not set_aside
    group by session_id, athlete_id, measure, line
)
select
    l.session_id, l.athlete_id, l.measure, l.own_line,
    case m.summary
        when 'median' then list_median(l.trials)
        when 'mean' then list_avg(l.trials)
        when 'best' then case when m.better = 'lower' then list_min(l.trials) else list_max(l.trials) end
        when 'mean of best' then case
            when m.better = 'lower' then list_avg(list_sort(l.trials)[1:m.keep])
            else list_avg(list_reverse_sort(l.trials)[1:m.keep])
        end
    end as own_value,
    case when m.better = 'lower' then list_min(l.trials) else list_max(l.trials) end as best,
    len(l.trials)::integer as n_trials,
    case when len(l.trials) > 1 then list_stddev_samp(l.trials) end as trial_sd,
    l.imports
from listed l join measure m using (measure);
