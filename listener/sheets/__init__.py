"""What is handed on: Standard MIDI Files (and, later, printed sheets) of a plan."""
