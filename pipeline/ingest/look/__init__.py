"""Looks at a file nobody has written a mapping for, and proposes how to read it."""
