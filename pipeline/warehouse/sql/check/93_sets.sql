-- The load and the repetitions behind a best trial that was estimated. A single was lifted as it stands and has no row.
insert into estimated_value
with placed as (
    select
        c.athlete_id || '@' || c.on_date as session_id, c.measure, c.line,
        c.final_value / c.reps_factor as load,
        case when c.reps_text = '' then 1 else try_cast(c.reps_text as double)::integer end as reps,
        row_number() over (
            partition by c.athlete_id, c.on_date, c.measure, c.line
            order by case when c.better = 'lower' then c.final_value else -c.final_value end, c.seq
        ) as place
    from accepted c
    where c.kind = 'number' and not c.set_aside
        and c.measure in (select measure from look_reps where factor <> 1)
)
select session_id, measure, line, load, reps from placed where place = 1 and reps > 1
order by session_id, measure, line;
