-- Open questions, the ones that settle most rows first.
select h.group_id, any_value(i.file_name), count(*), min(h.rule), arg_min(h.reason, h.row_no), arg_min(h.proposed_text, h.row_no)
from held_row h join import i using (import_id)
where h.state = 'open' and ($rule = '' or h.rule = $rule)
group by h.group_id order by count(*) desc, h.group_id
limit $limit
