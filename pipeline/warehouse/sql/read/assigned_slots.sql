-- Places in a list that decisions gave to one athlete only, within one day of one file.
select f.import_id, c.athlete_text, coalesce(d.on_date::varchar, c.date_text) as day, min(g.athlete_id) as athlete_id
from cell c join staged_file f using (import_seq)
join assignment g using (import_id, row_no, field)
join look_athlete a on a.athlete_text = c.athlete_text and a.slot
left join look_date d on d.import_id = f.import_id and d.date_text = c.date_text and d.date_format = f.date_format
where g.rule = 'unknown_athlete'
group by 1, 2, 3 having count(distinct g.athlete_id) = 1
order by all
