-- What a build concludes of each athlete and line, with the sessions it rests on as they were measured.
select t.athlete_id, t.stay_id, t.camp_id, t.measure, t.line, t.n_sessions, t.planned_sessions, t.change, t.low, t.high, t.z, t.verdict,
       list(cast(v.held_on as varchar) order by v.held_on, v.own_line) as on_days,
       list(round(v.value - v.shift, 9) order by v.held_on, v.own_line) as of_days
from trend as t
join session_value as v using (athlete_id, stay_id, measure, line)
group by all
order by t.athlete_id, t.stay_id, t.measure, t.line
