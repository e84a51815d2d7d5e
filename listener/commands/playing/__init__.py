"""Commands that play and listen: demo, play, hear, listen."""
