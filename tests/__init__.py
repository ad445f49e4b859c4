"""Tests, and the simulated camps they share."""
