"""How much of a young athlete's gain fits growth, and at which stage of it they are."""
