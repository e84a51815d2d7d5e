"""Melodies and lines of chords from files and from text, and what can be said of them without a guitar."""
