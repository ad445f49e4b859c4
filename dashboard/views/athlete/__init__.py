"""What the blocks of the athlete page show."""
