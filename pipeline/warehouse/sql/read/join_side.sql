-- What one athlete id holds, to be looked at beside another before they are joined.
select
    a.athlete_id, a.display_name, a.birth_date, a.sex, a.sport, a.graduation_year,
    count(r.value) as n_readings,
    count(distinct r.measured_on) as n_days,
    min(r.measured_on) as first_day,
    max(r.measured_on) as last_day,
    (select list(alias order by alias) from alias where alias.athlete_id = $athlete) as aliases
from athlete a left join reading r using (athlete_id)
where a.athlete_id = $athlete
group by all
