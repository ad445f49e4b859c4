"""Reads of the published warehouse as typed rows, bounded to what the viewer may see."""
