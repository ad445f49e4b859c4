"""Measures of speed and studies of methods: commands, not tests, beside the tests of their own arithmetic."""
