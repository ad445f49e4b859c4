select * from size_exponent
order by measure, line
