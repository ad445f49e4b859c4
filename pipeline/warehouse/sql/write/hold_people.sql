-- A row that is held is not among those taken.
delete from people_taken where import_id = $import_id and row_no = $row_no
