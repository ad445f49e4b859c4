"""What was agreed to for whom, and whether it stands."""
