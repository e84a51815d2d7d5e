"""Every shape that a hand could play for a wish: found on the neck all at once, as arrays."""
