-- Every id, name and alias with the id that its own rows carry, those of joined ids apart.
select athlete_id, athlete_id as name from athlete
union all select athlete_id, display_name from athlete
union all select athlete_id, alias from alias where origin <> 'joined'
union all select joined_id, name from joined_name
order by all
