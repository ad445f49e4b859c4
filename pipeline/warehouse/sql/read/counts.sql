select (select count(*) from reading) + (select count(*) from observation), (select count(*) from held_row where state = 'open'), (select count(*) from athlete)
