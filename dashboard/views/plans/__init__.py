"""What the pages of weight plans show."""
