"""What the entry page shows."""
