select * from not_computed
order by step, measure
