"""Measuring the ears: known playing through simulated pickups, and what the judge made of it."""
