"""Is this change real? Measurement error, trends, verdicts, what a camp gained."""
