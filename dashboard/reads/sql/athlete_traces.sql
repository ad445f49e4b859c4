select c.import_id, min(c.row_no) over (partition by c.import_id, c.measured_on, c.trial_text) as row_no, i.file_name,
       c.measured_on, c.trial, c.trial_text, c.measure, c.state, c.speed, c.ms_from_event, c.speed_error, c.ms_error,
       c.opposite, c.n_lost, c.rate_hz, c.cutoff_hz, c.cutoff_source, c.reason, c.remarks,
       h.rule as held_rule, h.proposed_value is not null as fix_known, r.value as taken,
       coalesce(max(r.conditions ->> '$.action') over trial, '') as action,
       coalesce(max(r.line) over trial, '') as line
from trace_channel c
join import i using (import_id)
left join held_row h on h.import_id = c.import_id and h.row_no = c.row_no and h.field = c.field and h.state = 'open'
left join reading r on r.import_id = c.import_id and r.row_no = c.row_no and r.field = c.field
where c.athlete_id = $athlete_id and c.measured_on is not null and c.trial is not null
window trial as (partition by c.import_id, c.measured_on, c.trial_text)
order by c.measured_on desc, c.trial, c.row_no, c.field
