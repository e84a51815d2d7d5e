"""Which step is being played: one probabilistic follower, with the click and without, for chords, strums, rolls. Pure."""
