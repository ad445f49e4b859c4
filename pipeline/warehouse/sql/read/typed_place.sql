-- The stay an athlete is at on one day, and how far a value of one measure may lie from the athlete's own sessions.
select
    (
        select stay_id from stay
        where athlete_id = $athlete and arrived_on - 3 <= $on_date and (left_on is null or $on_date <= left_on + 3)
        order by arrived_on desc limit 1
    ),
    (select allowance from jump_allowance where measure = $measure),
    (select season_allowance from jump_allowance where measure = $measure)
