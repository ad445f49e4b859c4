select rows_taken, rows_held, rows_recognised from import where import_id = $import_id
