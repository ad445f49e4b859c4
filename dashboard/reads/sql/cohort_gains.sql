select * from cohort_gain
order by measure, line, camp_id
