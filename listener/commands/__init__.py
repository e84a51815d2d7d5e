"""One module for each command of the command line: it wires the parts together and prints."""
