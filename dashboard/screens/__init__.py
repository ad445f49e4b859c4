"""One module per screen: widgets, reads, views, drawing; no arithmetic."""
