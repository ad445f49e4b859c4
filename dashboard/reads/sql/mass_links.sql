select * from mass_link
order by measure, line, scope, adjustment
