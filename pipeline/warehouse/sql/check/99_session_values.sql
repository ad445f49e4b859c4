-- Session values, moved to the joined line where a bridge says how, in the order in which the statistics read them.
insert into session_value
with on_line as (
    select
        s.*, l.joined_to as line,
        coalesce(b.shift, 0) as shift, coalesce(b.shift_se, 0) as shift_se
    from summed s
    join line l on l.measure = s.measure and l.line = s.own_line
    left join bridge b on b.measure = s.measure and b.from_line = s.own_line and b.to_line = l.joined_to and b.usable
    qualify row_number() over (
        partition by s.session_id, s.measure, l.joined_to order by s.own_line = l.joined_to desc, s.own_line
    ) = 1
)
select
    o.session_id, o.athlete_id, z.stay_id, z.camp_id, z.held_on, z.week_of_stay,
    z.stay_id is not null and z.is_intake and z.held_on = min(z.held_on) over (
        partition by o.athlete_id, z.stay_id, o.measure, o.line
    ),
    o.measure, o.line, o.own_line, o.own_value + o.shift, o.shift, o.shift_se, o.best + o.shift, o.n_trials,
    o.trial_sd, o.imports
from on_line o join session z using (session_id) join measure m using (measure)
order by m.position, o.line, o.athlete_id, z.held_on, o.own_line;
