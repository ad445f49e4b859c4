-- The same athletes measured both ways on one day.
create temp table paired as
select a.measure, a.own_line as from_line, b.own_line as to_line, b.own_value - a.own_value as difference
from summed a join summed b using (session_id, measure)
where a.own_line <> b.own_line;
