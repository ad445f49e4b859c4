select h.held_id, h.import_id, i.file_name, h.row_no, h.field, h.rule, h.reason, h.athlete_text, h.athlete_id,
       h.measure, h.measured_on, h.raw_value, h.raw_unit, h.proposal, h.proposed_value, h.proposed_text, h.group_id
from held_row h
join import i using (import_id)
where h.state = 'open'
order by h.rule, h.import_id, h.row_no, h.field
