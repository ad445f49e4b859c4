-- Every trial that is not set aside, with what its summary needs to know of the measure, in parts by camp and month.
create or replace temp table session_trial as
select
    coalesce(z.camp_id, 'none') as camp_id, strftime(z.held_on, '%Y-%m') as month,
    r.session_id, r.athlete_id, r.measure, r.line as own_line, r.value, m.summary, m.keep, m.better
from reading r join session z using (session_id) join measure m on m.measure = r.measure
where not r.set_aside
