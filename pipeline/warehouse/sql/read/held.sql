select h.held_id, h.rule, coalesce(a.display_name, h.athlete_text), h.measure, h.reason, h.proposed_text, h.state
from held_row h left join athlete a using (athlete_id)
where ($rule = '' or h.rule = $rule) and (h.state = 'open' or $decided)
order by h.import_id, h.rule, h.row_no, h.field
limit $limit
