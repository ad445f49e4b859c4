-- Each id that was joined into another, in this build.
select distinct joined_id, athlete_id from joined_name order by all
