select * from plan_guard order by plan_id, case role when 'strength' then 1 when 'strength per kg' then 2 when 'split' then 3 else 4 end, measure
