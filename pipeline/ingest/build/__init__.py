"""A build: staging of what was taken in, what is settled in it, the run, and what it was made from."""
