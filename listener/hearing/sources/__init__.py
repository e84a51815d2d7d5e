"""The computer's MIDI ports, in and out, through whichever MIDI library is installed."""
