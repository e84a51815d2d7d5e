"""The field ``notes``: the very notes of a chord, and the strings that they lie on where somebody says so.

An entry is for one chord, its notes from any string to any: ``"G2(6) B2(5) D3"``. The number in brackets is the string,
as sheet music rings it; without one the planner looks for a place. ``any`` leaves a chord to the other fields.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from listener.drill.reading.fields import Table
from listener.errors import MusicError
from listener.music.chord import Chord, unnamed_chord
from listener.music.pitch import Pitch, Tone, parse_pitch
from listener.records import shown

NOTES: Final = "notes"
ANY_NOTES: Final = "any"
MOST_STRINGS: Final = 12
EXAMPLE: Final = '["G2(6) B2(5) D3(4)", "C3 E3 G3"]'
_NOTE: Final = re.compile(r"([^\s()]+)(?:\(\s*([^()]*?)\s*\))?")


@dataclass(frozen=True, slots=True)
class FixedNotes:
    """The notes of one chord, low to high, with the string of each (1 is the highest) or None."""

    pitches: tuple[Pitch, ...]
    strings: tuple[int | None, ...]

    @property
    def midi(self) -> tuple[int, ...]:
        """MIDI notes, low to high."""
        return tuple(pitch.midi for pitch in self.pitches)

    @property
    def tones(self) -> tuple[Tone, ...]:
        """Their names, low to high."""
        return tuple(pitch.tone for pitch in self.pitches)

    @property
    def unnamed(self) -> Chord:
        """The chord that they are where it has no name."""
        return unnamed_chord(self.tones)

    def __str__(self) -> str:
        """As an entry of the field."""
        return " ".join(on_string(str(pitch), string) for pitch, string in zip(self.pitches, self.strings, strict=True))


def on_string(name: str, string: int | None) -> str:
    """A note's name with its string: ``G2(6)``."""
    return name if string is None else f"{name}({string})"


def fixed_notes(text: str) -> FixedNotes:
    """Read one entry; :class:`MusicError` says what is wrong with it.

    >>> str(fixed_notes("B2(5) G2(6) D3"))
    'G2(6) B2(5) D3'
    """
    found: list[tuple[Pitch, int | None]] = []
    rest = _NOTE.sub("", text).strip()
    if rest:
        raise MusicError(
            f"'{text}' cannot be read near '{rest[:20]}'; a string stands in brackets, as in G2(6)", text=text
        )
    for match in _NOTE.finditer(text):
        found.append((parse_pitch(match[1]), None if match[2] is None else _string(match[2], text)))
    if not found:
        raise MusicError("it names no note; write for example G2(6) B2(5) D3(4)", text=text)
    if len(found) > MOST_STRINGS:
        raise MusicError(f"{len(found)} notes are more than any guitar has strings", text=text)
    strings = [string for _, string in found if string is not None]
    twice = next((string for string in strings if strings.count(string) > 1), None)
    if twice is not None:
        raise MusicError(f"string {twice} cannot sound two notes at once", text=text)
    found.sort(key=lambda one: (one[0].midi, -(one[1] or 0)))
    return FixedNotes(tuple(pitch for pitch, _ in found), tuple(string for _, string in found))


def read_notes(table: Table) -> tuple[FixedNotes | None, ...] | None:
    """The field, an entry for each chord, None for ``any``; None when it is missing or wrong (which is reported)."""
    value = table.filled_list(NOTES, f"a list with an entry for each chord, such as {EXAMPLE}")
    if value is None:
        return None
    found: list[FixedNotes | None] = []
    good = True
    for index, entry in enumerate(value):
        if isinstance(entry, str) and entry.strip() == ANY_NOTES:
            found.append(None)
            continue
        try:
            if not isinstance(entry, str):
                raise MusicError(f"an entry is a text such as 'G2(6) B2(5)', not {shown(entry)}")
            found.append(fixed_notes(entry))
        except MusicError as error:
            table.report.add((*table.place(NOTES), index), f"'{NOTES}', entry {index + 1}: {error}")
            good = False
    return tuple(found) if good else None


def _string(text: str, whole: str) -> int:
    if not text.isascii() or not text.isdecimal() or not 1 <= int(text[:4]) <= MOST_STRINGS:
        raise MusicError(f"'{text}' is no string; they count from 1, the highest, to {MOST_STRINGS}", text=whole)
    return int(text)
