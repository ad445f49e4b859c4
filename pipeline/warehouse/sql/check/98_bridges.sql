-- Offset from the line that came first to the one used later, where the same athletes were measured both ways.
select
    p.measure, p.from_line, p.to_line, count(*)::integer as n, list_avg(list(difference order by difference)) as shift,
    list_stddev_samp(list(difference order by difference)) as shift_sd
from paired p
join line f on f.measure = p.measure and f.line = p.from_line
join line t on t.measure = p.measure and t.line = p.to_line
where (f.last_on, f.first_on, f.line) < (t.last_on, t.first_on, t.line)
group by p.measure, p.from_line, p.to_line
having count(*) >= 5
order by p.measure, p.from_line, n desc, p.to_line;
