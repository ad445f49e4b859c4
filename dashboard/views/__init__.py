"""Pure functions: rows and results in, what one screen shows out."""
