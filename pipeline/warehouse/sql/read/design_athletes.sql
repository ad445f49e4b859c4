-- The stays of one camp with what decides who may be in a draw of starts.
select s.athlete_id, s.stay_id, s.arrived_on, coalesce(s.left_on, s.planned_until) as until, a.birth_date, m.kg,
    exists (select 1 from plan p where p.stay_id = s.stay_id and p.start_on < $first) as on_plan,
    exists (
        select 1 from held_row h
        where h.athlete_id = s.athlete_id and h.state = 'open' and h.rule in ('plan_start', 'plan_second')
    ) as plan_asked
from stay s
join athlete a using (athlete_id)
left join (select stay_id, arg_max(kg, on_date) as kg from mass_trend group by stay_id) m using (stay_id)
where s.camp_id = $camp
order by s.athlete_id, s.stay_id
