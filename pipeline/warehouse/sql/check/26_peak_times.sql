-- Times of peaks whose sign or unit was left out: "90 ms to contact" is 90 before it, so -90. A day of an athlete, or of
-- a whole file, on which no peak comes before contact or release is asked about once for the file; so is a single
-- peak that fits the athlete's other trials of the day with its sign turned. After foot plant peaks are positive.
create temp table peak_time as
select c.seq, c.import_id, c.athlete_id, c.measure, c.line, c.on_date, c.value, c.unit
from checked c join known_measure m using (measure)
where c.family = 'movement' and c.canonical_unit = 'ms' and m.hard_low < 0 and not contains(c.line, 'event=foot plant');

create temp table odd_peaks as
with judged as (
    select *,
        -- Whole days within 2 ms of the event, with parts of a millisecond: seconds.
        unit = 'ms' and max(abs(value)) over own_day < 2 and bool_or(value <> round(value)) over own_day as in_seconds,
        min(value) over own_day > 0 and count(*) over own_day >= 2 or min(value) over file_day > 0 as all_after,
        count(*) over trials >= 3 and median(value) over trials <= -30 and value > 0
            and abs(-value - median(value) over trials) <= greatest(15, 0.3 * abs(median(value) over trials))
            as turned
    from peak_time
    window
        own_day as (partition by import_id, athlete_id, on_date),
        file_day as (partition by import_id, on_date),
        trials as (partition by athlete_id, measure, line, on_date)
)
select seq, import_id,
    case when all_after or turned then -1 else 1 end * case when in_seconds then 1000 else 1 end as factor,
    case when in_seconds then 'peaks_in_seconds' else 'peaks_after' end as rule
from judged where in_seconds or all_after or turned;

insert into asked_whole
select seq, import_id || ':' || rule || ':' || factor, factor, '', rule from odd_peaks;
delete from checked where seq in (select seq from odd_peaks);
