"""Faults made on purpose: kills, full disks, damaged and fuzzed files; `python -m tests.reliability`."""
