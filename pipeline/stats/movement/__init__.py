"""Traces of rotational speed: peaks, their times and their order."""
