"""Imports, held rows, decisions: the data steward's page."""
