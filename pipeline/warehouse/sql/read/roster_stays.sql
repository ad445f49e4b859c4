-- The stays of a camp by name, with what a printed roster holds; no birth date.
select a.display_name, a.athlete_id, a.sport, a.positions, a.bats, a.throws, s.training_group, s.arrived_on, s.left_on,
       s.planned_until
from stay s join athlete a using (athlete_id)
where s.camp_id = $camp
order by a.display_name, a.athlete_id, s.arrived_on;
