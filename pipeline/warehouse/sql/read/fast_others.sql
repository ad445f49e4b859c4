-- The last weigh-in of every stay that entered its trend.
select stay_id, max(measured_on) as measured_on, true as used from weighin_use where used group by stay_id
