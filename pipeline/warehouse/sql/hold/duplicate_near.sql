-- Two readings within a minute that differ by no more than the instrument's last digit.
select seq from (
    select c.seq, c.value, c.clock_time, m.resolution,
        lag(c.value) over w as earlier_value, lag(c.clock_time) over w as earlier_time, lag(c.trial) over w as earlier_trial, c.trial
    from checked c join known_measure m using (measure)
    where c.clock_time is not null and m.trials = 1
    window w as (partition by c.athlete_id, c.measure, c.line, c.on_date order by c.clock_time, c.seq)
)
where datediff('second', earlier_time, clock_time) between 0 and 60
    and abs(value - earlier_value) <= 1.01 * resolution
