"""The camps of a program over the years, on one page."""
