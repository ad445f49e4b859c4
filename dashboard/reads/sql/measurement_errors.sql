select * from measurement_error
order by measure, line
