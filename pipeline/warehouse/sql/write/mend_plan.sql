-- A plan that starts from the trend of the weigh-ins, as a steward has answered.
update plan set start_kg = $start_kg where import_id = $import_id and row_no = $row_no
