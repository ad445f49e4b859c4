select * from mass_or_strength
order by measure, line
