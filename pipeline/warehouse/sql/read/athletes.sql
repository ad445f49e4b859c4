select a.athlete_id, a.display_name, a.sport, a.positions, string_agg(s.camp_id, ' ' order by s.arrived_on)
from athlete a left join stay s using (athlete_id)
where contains(lower(a.athlete_id || ' ' || a.display_name), lower($find))
group by a.athlete_id, a.display_name, a.sport, a.positions order by a.athlete_id
