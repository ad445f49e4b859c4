-- How long the stays of a camp are planned, and the days between neighbouring tests of one measure, half a week at least.
with tests as (
    select held_on - lag(held_on) over (partition by stay_id, line order by held_on) as days
    from session_value where measure = $measure and camp_id = $camp and stay_id is not null
)
select (select median(planned_until - arrived_on) / 7.0 from stay where camp_id = $camp) as weeks,
       (select median(days) / 7.0 from tests where days >= 3.5) as every
