"""Which voicings a player has used, and which are still empty on the map."""
