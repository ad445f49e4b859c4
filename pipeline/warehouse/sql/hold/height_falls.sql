-- A height that falls, or stands out above both neighbours.
select c.seq
from checked c join expected e using (athlete_id, measure, line, on_date)
where c.measure = $standing_height
    and ((e.before - e.middle > 1.0 and (e.after is null or e.after - e.middle > 0.5))
        or (e.middle - e.after > 1.0 and e.middle - e.before > 1.0))
