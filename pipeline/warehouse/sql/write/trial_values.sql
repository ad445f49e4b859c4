-- Every trial that enters a session value, on the scale of its line, with what the sums per stay need to know of it.
-- Body mass and all of its family are left out: mass has a model of its own, and a child's body is not carried about.
create or replace temp table trial_value as
select
    v.camp_id, strftime(v.held_on, '%Y-%m') as month, v.measure, v.line, v.stay_id,
    (v.held_on - date '1970-01-01')::integer as day, v.weeks, v.is_intake, m.summary, m.keep, m.better,
    r.value + v.shift as value
from session_value v
join reading r on r.session_id = v.session_id and r.measure = v.measure and r.line = v.own_line
join measure m on m.measure = v.measure
where not r.set_aside and m.kind = 'number' and v.camp_id is not null 
    and m.family <> (select family from measure where measure = $body_mass)
order by v.camp_id, month, v.measure, v.line, v.stay_id, v.held_on, r.trial, r.import_id, r.row_no, r.field
