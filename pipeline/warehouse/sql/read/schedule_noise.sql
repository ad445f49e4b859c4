-- The line of a measure that a camp was tested in most, with the noise of a test day and of a trial.
select l.label, e.typical_error, e.trial_sd, avg(v.n_trials) as trials, count(distinct v.stay_id) as athletes
from session_value v join measurement_error e using (measure, line) join line l using (measure, line)
where v.measure = $measure and v.camp_id = $camp and v.stay_id is not null
group by v.line, l.label, e.typical_error, e.trial_sd
order by count(*) desc, v.line
limit 1
