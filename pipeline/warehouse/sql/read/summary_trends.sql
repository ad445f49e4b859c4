select athlete_id, stay_id, measure, line, change, low, high, level, weeks, n_sessions, planned_sessions, first_on, last_on,
    fitted_start, reason
from trend;
