"""What a new session is expected to show, and how past projections did."""
