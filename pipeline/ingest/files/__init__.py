"""Files of any device: landed unchanged, read as text, shaped into readings."""
