-- All session values of one measure, from which a design learns how tests scatter.
select * from session_value where measure = $measure order by athlete_id, held_on, session_id
