select * from plan_power
order by per_week, gap_rate, week
