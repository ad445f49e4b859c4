"""Arrays and frames in, frozen results out: one folder a question, each with its results."""
