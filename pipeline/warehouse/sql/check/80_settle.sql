-- What a decision, or the lack of one, makes of each value.
create temp view settled as
select
    c.*,
    coalesce(f.rule, case when c.date_settled then 'date_ambiguous' when c.assigned then coalesce(c.assigned_rule, c.athlete_problem) end) as rule,
    coalesce(f.proposal, 'none') as proposal,
    f.proposed, f.detail, f.group_id, f.own, f.session_middle,
    case
        when d.action = 'reject' then 'rejected'
        when f.rule is null and c.date_settled then 'mended'
        when f.rule is null and c.assigned then 'assigned'
        when f.rule is null then 'taken'
        when d.action = 'mend' and try_cast(d.argument as double) is not null and c.athlete_id is not null
            and c.measure is not null and c.on_date is not null and c.condition_problem is null then 'mended'
        when d.action = 'accept' and c.athlete_id is not null and c.measure is not null
            and c.on_date is not null and c.value is not null and c.condition_problem is null then 'accepted'
        else 'open'
    end as state,
    case when f.rule is not null and d.action = 'mend' then try_cast(d.argument as double) end as mended,
    coalesce(mended, c.value) as final_value
from candidate c
left join flag f using (seq)
left join row_decision d
    on d.import_id = c.import_id and d.row_no = c.row_no and d.field = c.field and d.stage = 'row'
anti join recognised r using (seq);

-- Another value for a trial that is already there: an update that waits for a yes.
create temp table correction as
with ordered as (
    select
        seq, final_value,
        first_value(seq) over same_trial as first_seq,
        first_value(final_value) over same_trial as standing,
        row_number() over same_trial as position
    from settled semi join same_trial using (seq)
    where state <> 'open' and state <> 'rejected'
    window same_trial as (partition by athlete_id, measure, line, on_date, time_text, trial, lower(rater) order by seq)
)
select
    o.seq, o.first_seq, o.standing,
    case
        when abs(o.final_value - o.standing) < 1e-9 then 'recognised'
        when d.action = 'accept' then 'accepted'
        when d.action = 'mend' then 'mended'
        when d.action = 'reject' then 'rejected'
        else 'open'
    end as update_state
from ordered o
join settled s using (seq)
left join row_decision d
    on d.import_id = s.import_id and d.row_no = s.row_no and d.field = s.field and d.stage = 'correction'
where o.position > 1;

-- One row per value that is neither recognised nor simply taken, beside `candidate`; `mended` is the value a decision
-- gave instead of its own.
create temp table outcome as
select
    s.seq,
    coalesce(case when r.first_seq is not null then 'replaced' end, k.update_state, s.state) as state,
    case when k.seq is not null or r.first_seq is not null then 'correction' else s.rule end as rule,
    case when k.seq is not null then 'replace' when r.first_seq is not null then 'none' else s.proposal end as proposal,
    case when k.seq is not null then s.final_value else s.proposed end as proposed,
    s.detail, s.group_id, s.own, s.session_middle, s.mended, k.first_seq, k.standing
from settled s
left join correction k using (seq)
left join (select distinct first_seq from correction where update_state = 'mended') r on r.first_seq = s.seq
where s.state <> 'taken' or k.seq is not null or r.first_seq is not null;
