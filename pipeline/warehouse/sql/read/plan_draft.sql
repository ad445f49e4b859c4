-- What a drafted plan is held against: birth date, growth stage, the plan's highest version, and the trend of the
-- weigh-ins nearest to the start day.
select
    a.birth_date,
    coalesce(g.stage, ''),
    coalesce((select max(version) from plan where plan_id = $plan_id), 0),
    (
        select arg_min(m.smoothed_kg, abs(m.on_date - $start_on::date))
        from mass_trend m
        where m.athlete_id = $athlete_id and abs(m.on_date - $start_on::date) <= $near_days
    )
from athlete a left join growth_stage g using (athlete_id)
where a.athlete_id = $athlete_id
