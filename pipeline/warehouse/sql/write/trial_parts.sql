-- Each camp and month with a hash of its trials, whatever their order; a trial that is there twice counts twice.
select camp_id, month, count(*) as n, sum(hash(t)::hugeint) as total, sum((hash(t) >> 7)::hugeint * (hash(t) & 127)) as mixed
from session_trial t
group by camp_id, month
order by camp_id, month
