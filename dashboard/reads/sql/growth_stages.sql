select * from growth_stage
