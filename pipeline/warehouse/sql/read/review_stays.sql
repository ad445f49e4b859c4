-- One camp's stays, with what the groups are made of and what the weigh-ins say of the stay.
select s.stay_id, s.athlete_id, s.arrived_on, s.left_on, s.planned_until, s.left_early,
       a.positions, a.sex, a.birth_date, m.gained, s.training_group, s.leave_reason
from stay s
left join athlete a using (athlete_id)
left join (
    select stay_id, arg_max(smoothed_kg, on_date) - arg_min(smoothed_kg, on_date) as gained
    from mass_trend group by stay_id
    -- a gain needs two weigh-ins a week apart, as a rate does
    having max(n_weighins) > 1 and max(on_date) - min(on_date) >= 7
) m using (stay_id)
where s.camp_id = $camp
order by s.arrived_on, s.stay_id;
