"""Standard MIDI Files, byte by byte: what takes, sheets and melodies are read from and written as."""
