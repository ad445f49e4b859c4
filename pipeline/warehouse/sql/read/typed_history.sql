-- The days before one day on which an athlete was measured in one measure: where, in which way, and every trial.
select
    r.measured_on, s.stay_id, r.line, list(r.value order by r.trial, r.import_id, r.row_no) as trials,
    coalesce(any_value(v.value - v.shift), median(r.value)) as shown
from reading r
join session s using (session_id)
left join session_value v
    on v.session_id = r.session_id and v.measure = r.measure and v.own_line = r.line
where r.athlete_id = $athlete and r.measure = $measure and r.measured_on < $on_date
group by r.measured_on, s.stay_id, r.line
order by r.measured_on, r.line
