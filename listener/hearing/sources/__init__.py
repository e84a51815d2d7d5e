"""Where messages come from: a MIDI port, a Standard MIDI File, the simulated player."""
