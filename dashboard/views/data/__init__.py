"""What the data steward's page shows."""
