select * from stay order by stay_id
