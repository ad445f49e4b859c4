select v.* from session_value v join measure m using (measure)
where m.kind = 'number' order by m.position, v.line, v.athlete_id, v.held_on
