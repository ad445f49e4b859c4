select * from strength_link
order by measure, line, adjustment
