select build_id, made_at, (select count(*) from athlete), (select count(*) from reading) + (select count(*) from observation),
    (select count(*) from session), (select count(*) from held_row where state = 'open')
from build_log
