"""Widehand listens to a guitar with a MIDI pickup and says, chord by chord, whether what sounded is what was meant.

Nothing is loaded here: each command imports only what it needs, so that help and error lines stay quick.
"""

__version__ = "0.1.0"
