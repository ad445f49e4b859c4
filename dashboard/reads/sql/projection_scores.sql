select * from projection_score
order by measure, horizon
