-- The open rows that a decision names, by their own id or by that of their group.
select held_id, group_id, rule, reason, proposal, proposed_value, proposed_text, measure, raw_unit,
    rule not in (
        'unknown_athlete', 'same_name', 'unknown_measure', 'unknown_unit', 'unknown_condition',
        'unreadable_value', 'no_value', 'unreadable_date', 'date_ambiguous', 'reps_too_many', 'people_row', 'plan_second',
        'channel_lost'
    ) as acceptable
from held_row
where list_contains($ids, held_id) or list_contains($ids, group_id) and state = 'open'
order by import_id, row_no, field
