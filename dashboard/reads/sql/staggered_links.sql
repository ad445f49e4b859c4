select * from staggered_link
order by measure, line, camp_id
