-- What goes with a kilogram in the whole program, time held apart, for one line.
select per_kg, reason from mass_link
where scope = 'program' and adjustment = 'time' and measure = $measure and line = $line
