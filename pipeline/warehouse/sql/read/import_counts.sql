select rows_taken, rows_held, rows_recognised, rows_rejected from import where import_id = $import_id
