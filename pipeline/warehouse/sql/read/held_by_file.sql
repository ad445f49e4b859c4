select i.file_name, h.row_no, h.field, h.rule, h.proposed_value
from held_row h join import i using (import_id)
order by h.import_id, h.row_no, h.field
