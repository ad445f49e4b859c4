select t.athlete_id
from trend t
join camp c using (camp_id)
where t.verdict <> 'too few sessions'
group by t.athlete_id, c.starts_on
order by c.starts_on desc, count(*) filter (t.verdict like 'clear%') desc, t.athlete_id
limit 1
