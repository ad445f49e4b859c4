"""What is only ever added to: decisions, plans, typed values, and the audit log of them all."""
