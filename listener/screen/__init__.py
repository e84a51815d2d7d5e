"""What the player sees, and the keys they press."""
