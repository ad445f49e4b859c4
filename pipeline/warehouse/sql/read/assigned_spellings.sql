-- Unknown spellings that decisions have assigned, always to the same athlete.
select c.athlete_text, min(g.athlete_id)
from cell c join staged_file using (import_seq) join assignment g using (import_id, row_no, field)
where g.rule = 'unknown_athlete'
group by c.athlete_text having count(distinct g.athlete_id) = 1
order by 1
