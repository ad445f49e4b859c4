-- What the channels of traces showed, with the athlete and day that the row checks found for their trial.
insert into trace_channel by name
with trial as (
    select distinct import_id, athlete_text, date_text, trial_text, athlete_id, on_date as measured_on, trial
    from candidate where import_id in (select import_id from staged_channel)
)
select s.* exclude (athlete_text, date_text), t.athlete_id, t.measured_on, t.trial
from staged_channel s
left join trial t using (import_id, athlete_text, date_text, trial_text)
order by s.import_id, s.row_no, s.field;
