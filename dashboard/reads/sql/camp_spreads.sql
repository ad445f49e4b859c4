select * from camp_spread
order by measure, line
