-- The summary over the trials of a session that the catalogue asks for.
create temp table summed as
select
    r.session_id, r.athlete_id, r.measure, r.line as own_line,
    case m.summary
        when 'median' then median(r.value)
        when 'mean' then avg(r.value)
        when 'best' then case when m.better = 'lower' then min(r.value) else max(r.value) end
        else case when m.better = 'lower' then 1 else -1 end
            * list_avg(list_sort(list(r.value * case when m.better = 'lower' then 1 else -1 end))[1:m.keep])
    end as own_value,
    case when m.better = 'lower' then min(r.value) else max(r.value) end as best,
    count(*)::integer as n_trials,
    stddev_samp(r.value) as trial_sd,
    string_agg(distinct r.import_id, ' ' order by r.import_id) as imports
from reading r join measure m using (measure)
group by r.session_id, r.athlete_id, r.measure, r.line, m.summary, m.better, m.keep;

-- The same athletes measured both ways on one day.
create temp table paired as
select a.measure, a.own_line as from_line, b.own_line as to_line, b.own_value - a.own_value as difference
from summed a join summed b using (session_id, measure)
where a.own_line <> b.own_line;
