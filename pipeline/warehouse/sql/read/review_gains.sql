select g.camp_id, g.measure, g.line, g.n_enrolled, g.n_measured, g.n_with_exit, g.n_left_early, g.weeks,
       g.gain, g.low, g.high, g.shrunk_gain, g.shrunk_low, g.shrunk_high, g.as_measured,
       g.as_measured_low, g.as_measured_high, g.raw_gain, g.raw_low, g.raw_high, g.spread, g.camps_differ, g.verdict, g.reason, g.level, g.method
from cohort_gain g join measure m using (measure)
where g.camp_id = $camp and m.kind = 'number'
order by m.position, g.line;
