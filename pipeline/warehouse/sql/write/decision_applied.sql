update decision set applied = true
where target in (select held_id from held_row where state <> 'open') or target in (select import_id from import)
    or action in ('join', 'reopen') and target in (select joined_id from joined_name union all select athlete_id from athlete);
