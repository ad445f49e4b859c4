select * from link_spread
order by measure, line
