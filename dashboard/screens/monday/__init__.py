"""What waits for the viewer."""
