-- What only helped to find suspects goes before values are settled.
drop table checked;
drop table day_value;
drop table expected;
drop table measured_against;

-- One rule for each value that cannot be taken as it stands: the first that applies.
create temp table flag as
with channels as (
    -- Where every channel of a trial is reversed it is not a sensor: the side of the athlete was entered wrongly.
    select import_id, athlete_id, on_date, trial,
        count(distinct measure) >= 3 and bool_and(value < 0) as all_reversed
    from candidate where family = 'movement' and canonical_unit = 'deg/s' and value is not null
    group by import_id, athlete_id, on_date, trial
),
all_flags as (
    select seq, 1 as priority,
        case when row_rule = 'reversed_sensor' and all_reversed then 'all_reversed' else row_rule end as rule,
        case
            when row_rule = 'date_ambiguous' and other_date is null then 'date'
            when row_rule in ('unknown_athlete', 'same_name') and suggestion is not null then 'athlete'
            when row_rule = 'reversed_sensor' and not coalesce(all_reversed, false) then 'value'
            else 'none'
        end as proposal,
        case when row_rule = 'reversed_sensor' and not coalesce(all_reversed, false) then -value end as proposed,
        case
            when row_rule in ('unknown_athlete', 'same_name') then suggestion
            when row_rule = 'date_ambiguous' then strftime(on_date, '%Y-%m-%d')
            when row_rule = 'unknown_condition' then condition_detail
            when row_rule = 'channel_lost' then lost
        end as detail,
        case row_rule
            when 'date_ambiguous' then import_id || ':dates' || case when other_date is not null then ':both' else '' end
            when 'reversed_sensor' then import_id || ':' || athlete_id
                || case when all_reversed then ':every channel' else ':' || on_date || ':' || measure end
            when 'channel_lost' then import_id || ':' || athlete_id || ':' || on_date || ':' || measure || ':lost'
            when 'unknown_athlete' then import_id || ':' || athlete_text
                || case when slot then ':' || coalesce(on_date::varchar, date_text) else '' end
            when 'same_name' then import_id || ':' || athlete_text
            when 'unknown_measure' then import_id || ':' || measure_text
            when 'unknown_unit' then import_id || ':' || measure || ':' || raw_unit
            when 'unknown_condition' then import_id || ':' || measure || ':' || condition_detail
            when 'sentinel' then import_id || ':' || measure || ':' || raw_value
        end as group_id
    from candidate left join channels using (import_id, athlete_id, on_date, trial)
    where row_rule is not null
    union all
    select a.seq, 2, a.rule, 'value', c.value * a.factor, a.other_unit, a.group_id
    from asked_whole a join candidate c using (seq)
    union all
    select seq, 5, rule, 'value', proposed, other_unit, null from first_mend
    union all
    select s.seq, 5, m.rule, 'value', m.proposed, m.other_unit, null from suspect s join mend m using (seq)
    union all
    select seq, 6, case when family = 'speed' and value < hard_low then 'false_start' else 'out_of_range' end,
        'none', null, null, null
    from suspect where out_of_range
    union all
    select seq, 7, case when better = 'lower' and value < coalesce(own, session_middle) then 'false_start' else 'impossible_jump' end,
        'none', null, null, null
    from suspect
    union all
    -- rules that are a query of their own, in sql/hold
    select seq, priority, rule, proposal, proposed, detail, group_id from hold
)
select f.* exclude (priority), coalesce(s.own, e.own) as own, coalesce(s.session_middle, e.session_middle) as session_middle
from all_flags f
left join suspect s using (seq)
left join first_mend e using (seq)
anti join recognised using (seq)
qualify row_number() over (partition by f.seq order by f.priority) = 1;
