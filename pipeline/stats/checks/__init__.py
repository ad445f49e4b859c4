"""Published numbers made again by an independent program."""
