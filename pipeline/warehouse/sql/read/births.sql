-- Birth dates, to judge a consent by age.
select athlete_id, birth_date from athlete order by athlete_id;
