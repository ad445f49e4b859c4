-- A plan that is held is not judged.
delete from plan where import_id = $import_id and row_no = $row_no
