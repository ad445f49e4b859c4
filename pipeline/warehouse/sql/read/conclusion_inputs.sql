select code_version, catalogue_digest, landing_digest, decisions_digest,
       (select count(*) from held_row where state = 'open') as n_open,
       (select list(import_id order by import_id) from import) as imports
from build_log
