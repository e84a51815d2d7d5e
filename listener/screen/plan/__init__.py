"""A plan or a drill to look at: shapes, tab, voices as lines, other routes."""
