"""What the blocks of the cohorts page show."""
