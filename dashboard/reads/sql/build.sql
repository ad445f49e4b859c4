select build_id, made_at, seconds, code_version, program_name, invented, clock,
       (select count(*) from athlete) as n_athletes,
       (select count(*) from reading) as n_readings,
       (select count(*) from held_row where state = 'open') as n_open,
       (select coalesce(sum(n_fits), 0) from fit_check)::bigint as n_checked,
       (select max(largest_difference) from fit_check) as largest_difference
from build_log
