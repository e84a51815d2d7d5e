"""The screen while a take is played and when it ends, wide, small, or in plain lines."""
