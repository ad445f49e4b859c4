-- Of the session values of a camp, how many of each line were estimated from a set of several repetitions.
select v.measure, v.line, count(*), count(e.reps)
from session_value v
left join estimated_value e
    on v.session_id = e.session_id and v.measure = e.measure and v.own_line = e.own_line
where v.camp_id = $camp
group by v.measure, v.line having count(e.reps) > 0;
