"""Free playing, where no drill says what was meant: what it is called, which chord governs, what is worth keeping."""
