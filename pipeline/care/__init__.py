"""What looks after a data folder: backup, restore, erasure, examination."""
