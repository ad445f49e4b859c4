-- In which camps each way of measuring was used, and on which scale its values stand.
select v.camp_id, v.measure, v.own_line, v.line, count(distinct v.athlete_id) as n
from session_value v join measure m using (measure)
where v.camp_id is not null and m.kind = 'number'
group by all
order by v.measure, v.own_line, v.camp_id;
