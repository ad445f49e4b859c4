"""The case of one stay: what a coach tells at its end, one page from intake to exit, made from the records."""
