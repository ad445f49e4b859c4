"""What goes with added mass or strength, at equal time in the program."""
