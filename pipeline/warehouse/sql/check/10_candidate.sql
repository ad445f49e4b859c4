-- Each value with everything looked up, and the first rule that its own row breaks.
create temp table candidate as
with numbered as (
    -- Trials without a number are numbered as they come: over few columns and the rows that need it, not over all.
    select
        c.seq,
        row_number() over (
            partition by c.import_seq, c.athlete_text, m.measure, l.line, c.date_text, c.time_text, c.trial_text
            order by c.seq
        ) as turn
    from cell c
    left join look_measure m using (measure_text)
    left join look_line l on l.measure = m.measure and l.combination = c.combination
    left join known_measure s on s.measure = m.measure
    where s.trials is distinct from 1
        and case when try_cast(c.trial_text as double) >= 1 then try_cast(try_cast(c.trial_text as double) as integer) end
            is null
),
day_answered as (
    -- Earlier versions wrote the answer about a day as one about the row, with no value.
    select distinct import_id, row_no, field from row_decision
    where action = 'mend' and (stage = 'date' or stage = 'row' and argument = '')
),
looked as (
    select
        c.*,
        coalesce(g.athlete_id, a.athlete_id, q.athlete_id) as athlete_id,
        coalesce(a.slot, false) as slot,
        coalesce(a.problem, 'unknown_athlete') as athlete_problem,
        g.athlete_id is not null as assigned,
        g.rule as assigned_rule,
        w.row_no is not null and d.problem = 'date_ambiguous' and d.on_date is not null as date_settled,
        a.suggestion,
        m.measure,
        d.on_date,
        d.other_date,
        d.problem as date_problem,
        case when length(c.stamp) > 10 and regexp_matches(c.stamp, '^\d{4}-\d\d-\d\d[T ].*(Z|[+-]\d\d:?\d\d)$')
            then try_cast(c.stamp as timestamptz)
            when regexp_full_match(c.time_text, '\d{1,2}:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)')  -- its day stands beside
                then try_cast(strftime(d.on_date, '%Y-%m-%d') || 'T' || regexp_replace(
                    regexp_replace(c.time_text, '^(\d:)', '0\1'), '^(\d\d:\d\d)(Z|[+-])', '\1:00\2'
                ) as timestamptz) end as zoned_time,
        coalesce(
            case when c.time_text <> '' then try_strptime(
                nullif(regexp_replace(c.time_text, '^\d{4}-\d\d-\d\d[T ]|(Z|[+-]\d\d:?\d\d)$', '', 'g'), ''),
                ['%H:%M', '%H:%M:%S', '%H:%M:%S.%f', '%I:%M %p', '%I:%M:%S %p']
            )::time end,
            case when c.time_text = '' then d.clock end
        )
            as clock_time,
        coalesce(
            n.number,
            case
                when c.decimal_mark = ',' and regexp_full_match(c.raw_value, '[+-]?([0-9]+(,[0-9]*)?|,[0-9]+)')
                    then try_cast(replace(c.raw_value, ',', '.') as double)
                when c.decimal_mark = '.' and regexp_full_match(c.raw_value, '[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)')
                    then try_cast(c.raw_value as double)
            end
        ) as number,
        case when n.number is not null then 1.0 else u.factor end as factor,
        u.unit,
        case when c.reps_text = '' then 1.0 else r.factor end as reps_factor,
        l.line,
        l.conditions,
        l.set_aside,
        l.problem as condition_problem,
        l.detail as condition_detail
    from (
        select *, case when time_text <> '' then time_text else date_text end as stamp
        from cell join staged_file using (import_seq)
    ) c
    left join assignment g using (import_id, row_no, field)
    left join day_answered w on w.import_id = c.import_id and w.row_no = c.row_no and w.field = c.field
    left join look_athlete a using (athlete_text)
    left join look_measure m using (measure_text)
    left join look_date d on d.import_id = c.import_id and d.date_text = c.date_text and d.date_format = c.date_format
    left join slot_answer q on q.import_id = c.import_id and q.athlete_text = c.athlete_text
        and q.day = coalesce(d.on_date::varchar, c.date_text)
    left join look_number n on n.measure = m.measure and n.raw_value = c.raw_value
    left join look_unit u on u.measure = m.measure and u.raw_unit = c.raw_unit
    left join look_reps r on r.measure = m.measure and r.reps_text = c.reps_text
    left join look_line l on l.measure = m.measure and l.combination = c.combination
),
valued as (
    select
        k.*,
        k.number * k.factor * k.reps_factor as value,
        coalesce(
            case when try_cast(k.trial_text as double) >= 1 then try_cast(try_cast(k.trial_text as double) as integer) end,
            case when s.trials = 1 then 1 else o.turn end
        )::integer as trial,
        case when s.kind = 'rating' then coalesce(k.rater_text, '') else '' end as rater,
        s.hard_low, s.hard_high, s.family, s.kind, s.trials, s.better, s.typical_error, s.canonical_unit,
        p.birth_date, p.sport, p.sex
    from looked k
    left join known_measure s using (measure)
    left join known_athlete p using (athlete_id)
    left join numbered o using (seq)
),
placed as (
    select v.*, t.stay_id, t.camp_id, t.time_zone,
        t.left_on is not null and v.on_date > t.left_on + 3 as after_exit
    from valued v
    left join opening t
        on v.athlete_id = t.athlete_id and v.on_date >= t.opens_on and (t.closes_on is null or v.on_date < t.closes_on)
),
stayers as (select distinct athlete_id from opening)
select
    placed.* exclude (
        stay_id, camp_id, time_zone, after_exit, import_seq, combination, date_format, decimal_mark, received_on, stamp,
        factor, trials, birth_date, date_problem
    ),
    case when not after_exit then stay_id end as stay_id,
    case when not after_exit then camp_id end as camp_id,
    case
        when measure is null then 'unknown_measure'
        when athlete_id is null then athlete_problem
        when on_date is null then coalesce(date_problem, 'unreadable_date')
        when date_problem is not null and not date_settled then date_problem
        when time_text <> '' and clock_time is null then 'unreadable_date'
        when lost is not null then 'channel_lost'
        when raw_value = '' then 'no_value'
        when number is null then 'unreadable_value'
        when number in (select number from sentinel) and (number = 0 and hard_low > 0 or value > hard_high)
            then 'sentinel'
        when factor is null then 'unknown_unit'
        when reps_factor is null then 'reps_too_many'
        when condition_problem is not null then condition_problem
        when trial_text <> '' and coalesce(try_cast(trial_text as double) < 1
            or try_cast(trial_text as double) <> floor(try_cast(trial_text as double))
            or try_cast(try_cast(trial_text as double) as integer) is null, true) then 'unreadable_trial'
        when on_date > received_on then 'in_future'
        when birth_date is not null and on_date <= birth_date then 'before_birth'
        when (stay_id is null or after_exit) and athlete_id in (select athlete_id from stayers) then 'outside_stay'
        when regexp_matches(time_text, '^\d{4}-\d\d-\d\d') and zoned_time is null
            and left(time_text, 10) <> strftime(on_date, '%Y-%m-%d') then 'unreadable_date'
        -- By the clock of the camp this moment lies on another day than the one written beside it.
        when regexp_full_match(time_text, '\d{1,2}:\d\d.*(Z|[+-]\d\d:?\d\d)') and on_date
            <> timezone(time_zone, zoned_time)::date then 'unreadable_date'
        when try_cast(replace(angle_text, ',', '.') as double) > 10 then 'radar_angle'
        when family = 'movement' and canonical_unit = 'deg/s' and value < 0 then 'reversed_sensor'
    end as row_rule
from placed;
