"""From MIDI to strokes: timed messages in, the chords that were played out. Everything but ``sources`` is pure."""
