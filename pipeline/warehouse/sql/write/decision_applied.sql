update decision set applied = true
where target in (select held_id from held_row where state <> 'open') or target in (select import_id from import);
