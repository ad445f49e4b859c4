-- Imports whose rows are not all accounted for: each row came in once and is taken, held, recognised or rejected once.
select file_name, rows_in, rows_taken, rows_held, rows_recognised, rows_rejected
from import
where not withdrawn
    and rows_taken + rows_held + rows_recognised + rows_rejected <> rows_in
    and (not list_contains($erased, import_id) or rows_taken + rows_held + rows_recognised + rows_rejected > rows_in)
order by received_at, import_id;
