select import_id, file_name, kind, mapping, received_at, received_by, rows_in, rows_taken, rows_held,
       rows_recognised, rows_rejected, withdrawn
from import
order by received_at desc, file_name
