"""The athlete page and its blocks."""
