"""One module for each command of the command line, in rooms by what it is about: it wires the parts and prints."""
