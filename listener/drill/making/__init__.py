"""New drills: from a line of chords, a tune, something that was played, or a few shapes worth practising."""
