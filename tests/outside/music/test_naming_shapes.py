"""Names of notes against 2,043 published chord shapes (tables/SOURCES.md, guitar_chord_shapes.csv).

A shape has one published name, and its notes may have others: G C F B flat is Gm11 to one player, C7sus4 to another.
"""

from __future__ import annotations

import csv
from pathlib import Path

from listener.guitar.instrument import make_instrument
from listener.music.chord import Chord, parse_chord
from listener.music.naming import name_pitches

TABLE = Path(__file__).parents[1] / "tables" / "guitar_chord_shapes.csv"
GUITAR = make_instrument()
#: The table's words that are no chord symbols. Its "alt" is a major chord with a flat fifth, "7sg" a seventh over G.
WORDS = {"major": "", "minor": "m", "mmaj7b5": "dim(maj7)", "alt": "(b5)", "7sg": "7/G"}


def _same(ours: Chord, theirs: Chord) -> bool:
    """Root, quality and foreign bass; a bass that is one of the chord's tones is an inversion for us."""
    bass = theirs.bass if theirs.bass is not None and theirs.degree_of(theirs.bass.pitch_class) is None else None
    there = (theirs.root.pitch_class, theirs.quality, bass.pitch_class if bass else None)
    return (ours.root.pitch_class, ours.quality, ours.bass.pitch_class if ours.bass else None) == there


def test_published_names_are_found() -> None:
    """The published name is among the readings of at least 99 % of the shapes, and the first of at least 83 %."""
    shapes = first = found = 0
    with TABLE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            chord = parse_chord(row["key"] + WORDS.get(row["suffix"], row["suffix"]))
            frets = enumerate(row["frets_6to1"].split())
            notes = [GUITAR.pitch(6 - index, int(fret)) for index, fret in frets if fret != "x"]
            same = [_same(naming.chord, chord) for naming in name_pitches(notes)]
            shapes += 1
            first += same[:1] == [True]
            found += any(same)
    assert shapes == 2043
    assert found / shapes >= 0.99
    assert first / shapes >= 0.83
