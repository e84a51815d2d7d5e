"""A guitarist who is not there, and the pickup that is not plugged in either, mistakes included."""
