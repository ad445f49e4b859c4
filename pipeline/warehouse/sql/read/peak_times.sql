-- Times of peak speed, trial by trial, with the sampling rate where a trace was read.
with rate as (
    select athlete_id, measured_on, trial, replace(measure, '_peak_speed', '') as segment, min(rate_hz) as rate_hz
    from trace_channel group by all
)
select r.athlete_id, r.measured_on, coalesce(r.conditions ->> '$.action', '') as action, r.line, r.trial,
       replace(r.measure, '_peak_time', '') as segment, r.value as ms, rate.rate_hz
from reading r
left join rate on rate.athlete_id = r.athlete_id and rate.measured_on = r.measured_on and rate.trial = r.trial
    and rate.segment = replace(r.measure, '_peak_time', '')
where r.measure like '%\_peak\_time' escape '\' and not r.set_aside
order by r.athlete_id, r.measured_on, r.line, r.trial, segment
