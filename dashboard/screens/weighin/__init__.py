"""Weigh-in and test-day entry."""
