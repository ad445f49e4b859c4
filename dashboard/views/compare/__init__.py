"""Two test days, two stays or two athletes set beside each other; pure."""
