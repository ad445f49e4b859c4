"""The terms of the screens."""
