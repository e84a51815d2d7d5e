"""A teacher's pages: one for each student, and the table that leads to them."""
