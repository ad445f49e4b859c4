select stay_id, measure, line, verdict from trend where athlete_id = $athlete;
