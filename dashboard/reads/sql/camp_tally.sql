select athlete_id, any_value(stay_id) as stay_id,
       count(*) filter (verdict in ('clear gain', 'clear rise')) as n_gain,
       count(*) filter (verdict in ('clear loss', 'clear fall')) as n_loss,
       count(*) filter (verdict = 'not clear yet') as n_unclear,
       count(*) filter (verdict = 'too few sessions') as n_few,
       max(last_on) as last_on
from trend
where camp_id = $camp_id
group by athlete_id
order by athlete_id
