select stay_id, measure, line, verdict, z from trend where athlete_id = $athlete;
