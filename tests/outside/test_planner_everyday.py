"""Everyday shapes against published ones: ``tables/guitar_chord_shapes.csv`` (npm @tombatossals/chords-db, MIT).

Within a chord the table lists the shape that is taught first, first.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.planning.yardsticks import everyday_shape

#: The chords of a first guitar book, open and barred.
FIRST_BOOK = [
    "C",
    "D",
    "E",
    "F",
    "G",
    "A",
    "Am",
    "Dm",
    "Em",
    "Fm",
    "Bb",
    "Bbm",
    "F#",
    "F#m",
    "C7",
    "G7",
    "A7",
    "E7",
    "B7",
    "Am7",
]
SUFFIXES = {"": "major", "m": "minor", "7": "7"}


@cache
def published() -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = {}
    path = Path(__file__).parent / "tables" / "guitar_chord_shapes.csv"
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found.setdefault((row["key"], row["suffix"]), []).append(row["frets_6to1"])
    return found


def ours(chord: str, hand: str) -> str:
    shape = everyday_shape(parse_chord(chord), make_instrument(), make_hand(hand))
    assert shape is not None, chord
    frets = dict(zip(shape.strings, shape.frets, strict=True))
    return " ".join(str(frets.get(string, "x")) for string in range(6, 0, -1))


def shapes_of(chord: str) -> list[str]:
    parsed = parse_chord(chord)
    root, quality = str(parsed.root), chord[len(str(parsed.root)) :]
    return published()[root, {"m7": "m7"}.get(quality) or SUFFIXES[quality]]


@pytest.mark.parametrize("hand", ["small", "medium", "large"])
@pytest.mark.parametrize("chord", FIRST_BOOK)
def test_first_book(chord: str, hand: str) -> None:
    """The chords of a first book are the first shape in the table, for every hand."""
    assert ours(chord, hand) == shapes_of(chord)[0]


def test_most_are_published() -> None:
    """Of major, minor and seventh chords on all roots at least six in ten are among the published shapes."""
    chords = [root + quality for root, suffix in published() for quality in SUFFIXES if SUFFIXES[quality] == suffix]
    known = [chord for chord in chords if ours(chord, "medium") in shapes_of(chord)]
    assert len(chords) >= 30
    assert len(known) >= 0.6 * len(chords), sorted(set(chords) - set(known))
