-- Every athlete of a camp by name with the change over their stay in each line, for the program's own workbook.
select a.display_name, a.athlete_id, s.training_group, a.positions, s.left_early, t.measure, t.line, t.n_sessions,
       t.first_on, t.last_on, t.fitted_start, t.change, t.low, t.high, t.level, t.verdict, t.reason
from trend t
join stay s using (stay_id)
join athlete a on a.athlete_id = s.athlete_id
join measure m on m.measure = t.measure
where t.camp_id = $camp and m.kind = 'number'
order by m.position, t.line, a.display_name, a.athlete_id;
