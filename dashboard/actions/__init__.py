"""What the screens do to the program, for a viewer who may."""
