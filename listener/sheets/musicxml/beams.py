"""Which notes shorter than a quarter are joined by beams: those of one beat that follow one another."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import Final

from listener.sheets.musicxml.note_values import Value

#: Flags, and so beams, of each note value that has any (MusicXML 4.0 knows eight levels of beam).
FLAGS: Final = {
    "eighth": 1,
    "16th": 2,
    "32nd": 3,
    "64th": 4,
    "128th": 5,
    "256th": 6,
    "512th": 7,
    "1024th": 8,
}


def beams(values: Sequence[Value | None], beat: Fraction) -> list[tuple[str, ...]]:
    """For each note, its beams from the first level on: begin, continue, end, or a hook. None is a rest.

    ``beat`` is the length that beams never reach beyond, in quarters.
    """
    found: list[tuple[str, ...]] = [() for _ in values]
    for _, group in groupby(range(len(values)), key=lambda index: _joined(values[index], beat, index)):
        row = list(group)
        if len(row) < 2:
            continue
        flags = [_flags(values[index]) for index in row]
        for place, index in enumerate(row):
            found[index] = tuple(_beam(flags, place, level) for level in range(1, flags[place] + 1))
    return found


def _joined(value: Value | None, beat: Fraction, index: int) -> tuple[int, int]:
    """Equal for notes that share their beams; everything else stands alone."""
    if value is None or not _flags(value):
        return (-1, index)
    return (int(value.start // beat), -1)


def _flags(value: Value | None) -> int:
    return FLAGS.get(value.type or "", 0) if value is not None else 0


def _beam(flags: Sequence[int], place: int, level: int) -> str:
    before = place > 0 and flags[place - 1] >= level
    after = place + 1 < len(flags) and flags[place + 1] >= level
    if before and after:
        return "continue"
    if after:
        return "begin"
    if before:
        return "end"
    return "backward hook" if place else "forward hook"
