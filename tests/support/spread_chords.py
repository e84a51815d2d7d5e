"""Spread triads in C (MIDI), and what is nobody's chord among them: for tests that only need chords to tell apart."""

from __future__ import annotations

Chord = tuple[int, ...]

C: Chord = (48, 55, 64)
F: Chord = (53, 60, 69)
G: Chord = (55, 62, 71)
AM: Chord = (57, 64, 72)
DM: Chord = (50, 57, 65)
EM: Chord = (52, 59, 67)
#: What is no chord of these, nor near one.
WILD: Chord = (40, 44, 49)
#: A run above all of them.
RUN: tuple[Chord, ...] = ((83,), (85,), (87,), (85,), (83,), (80,), (78,), (80,))
