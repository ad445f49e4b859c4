select measure, line, typical_error from measurement_error;
