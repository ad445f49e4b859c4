select measure, line, minimal_change_one from measurement_error;
