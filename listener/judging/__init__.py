"""Target against stroke: which step was meant, what was right, what was not, in a teacher's words. Pure."""
