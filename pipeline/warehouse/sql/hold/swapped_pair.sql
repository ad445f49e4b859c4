-- Two athletes of one file and day whose values fit when exchanged.
select a.seq, 'athlete' as proposal, b.athlete_id as detail
from suspect a join suspect b
    on a.import_id = b.import_id and a.measure = b.measure and a.line = b.line and a.on_date = b.on_date
    and a.athlete_id <> b.athlete_id
where a.jumps and b.jumps
    and abs(a.value - b.own) <= greatest(4 * a.unit_error, 0.02 * b.own)
    and abs(b.value - a.own) <= greatest(4 * a.unit_error, 0.02 * a.own)
qualify row_number() over (partition by a.seq order by abs(a.value - b.own), b.seq) = 1
