"""Weight plans: the board, one plan, a new one."""
