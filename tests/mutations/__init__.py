"""Estimators broken on purpose: each change must be seen by a test (`python -m tests.mutations`)."""
