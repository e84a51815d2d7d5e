"""Where messages come from: MIDI ports, through whichever library is installed, and the files of takes."""
