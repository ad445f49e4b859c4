-- The versions in force of an athlete's plans: whether each was ended or its athlete has left, and its dates.
select p.plan_id, p.version, p.start_on, p.target_on,
    p.ended_on is not null or coalesce(s.left_on < $start_on::date, false) as over
from plan p left join stay s using (stay_id)
where p.athlete_id = $athlete_id
qualify p.version = max(p.version) over (partition by p.plan_id)
order by p.start_on, p.plan_id
