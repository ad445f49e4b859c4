-- Body mass by day, of which a design learns how it scatters.
select stay_id, on_date, smoothed_kg from mass_trend order by stay_id, on_date
