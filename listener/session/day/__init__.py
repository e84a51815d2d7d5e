"""A day of practice: what there is to choose from, what fits into the minutes, and one step further."""
