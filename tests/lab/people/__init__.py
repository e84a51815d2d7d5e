"""Simulated people who practise and comp, each with a way of playing, and the truth about what they did."""
