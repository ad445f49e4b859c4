"""The review of one camp."""
