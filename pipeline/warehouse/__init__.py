"""The schema, the row checks and the stored results: the only place that speaks to DuckDB."""
