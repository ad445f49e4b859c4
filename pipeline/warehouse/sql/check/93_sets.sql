-- The load and the repetitions behind a best trial that was estimated. A single was lifted as it stands and has no row.
insert into estimated_value
with placed as (
    select
        o.athlete_id || '@' || o.on_date as session_id, o.measure, o.line,
        o.final_value / o.reps_factor as load,
        case when o.reps_text = '' then 1 else try_cast(o.reps_text as double)::integer end as reps,
        row_number() over (
            partition by o.athlete_id, o.on_date, o.measure, o.line
            order by case when m.better = 'lower' then o.final_value else -o.final_value end, o.seq
        ) as place
    from outcome o join measure m using (measure)
    where o.kind = 'number' and not o.set_aside and o.state in ('taken', 'accepted', 'mended', 'assigned')
        and o.measure in (select measure from look_reps where factor <> 1)
)
select session_id, measure, line, load, reps from placed where place = 1 and reps > 1
order by session_id, measure, line;
