-- Height and body mass of each stay: the last height, and the body mass nearest to its day within 60 days.
with height as (
    select athlete_id, stay_id, held_on, value
    from session_value
    where measure = 'standing_height'
    qualify row_number() over (partition by stay_id order by held_on desc) = 1
)
select h.athlete_id, h.stay_id, h.held_on as on_date, h.value as height_cm, m.value as mass_kg
from height h
join session_value m on m.stay_id = h.stay_id and m.measure = 'body_mass'
    and abs(date_diff('day', m.held_on, h.held_on)) <= 60
qualify row_number() over (partition by h.stay_id order by abs(date_diff('day', m.held_on, h.held_on)), m.held_on) = 1
order by h.athlete_id, h.stay_id
