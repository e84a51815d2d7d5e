"""Which step is being played: one follower, with the click and without, for chords, strums, rolls alike. Pure."""
