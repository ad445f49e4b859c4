"""What the Monday page shows."""
