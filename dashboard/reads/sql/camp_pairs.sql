select * from camp_pair
order by measure, line, camp_id, other_id
