select import_id, file_name, kind, received_at, rows_in, rows_taken, rows_held, rows_recognised, rows_rejected,
    withdrawn, received_by
from import order by received_at, file_name
