"""The cohorts page, its blocks, and the athletes behind one number."""
