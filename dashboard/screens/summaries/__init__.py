"""Recruiting summaries: previewed, issued, consent."""
