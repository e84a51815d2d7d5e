"""The wish for the highest (or lowest) note of each chord, as a drill file writes it.

An entry is a degree (``"3"``, ``"b7"``), a pitch (``"E4"``), a motion (``up``, ``down``, ``same``, ``keep``,
``highest``, ``lowest``) or ``any``; at the bottom also ``pedal E2``, a pitch that stays where the chord does not have
it. A degree without a sign means the chord's own one: ``3`` is E in C and E flat in Cm; and 2 and 9, 4 and 11, 6 and 13
stand for each other where a chord has only one of the two. A pitch begins with a capital letter. One entry goes for
every chord; several (a list, or a text with spaces, bar lines allowed) are one for each chord.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

from listener.drill.drill import MOTIONS, NoteWish
from listener.drill.reading.fields import MOST_ENTRIES, Table
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import parse_degree, parse_pitch
from listener.music.voicing import bass_degree
from listener.plain_words import counted
from listener.records import did_you_mean, is_whole, shown

ANY_NOTE: Final = "any"
#: Motions that need a note before them.
RELATIVE: Final = ("up", "down", "same", "keep")
_WORD: Final = re.compile(r"pedal\s+[^\s|]+|[^\s|]+")
_PEDAL: Final = re.compile(r"pedal\s+(\S+)")
_EXAMPLE: Final = 'a degree such as "3", a pitch such as "E4", a motion such as "up", or "any"'


@dataclass(frozen=True)
class LineEntry:
    """One entry, and the line of the file that it stands on; a ``pedal`` stays where the chord does not have it."""

    text: str
    line: int
    pedal: bool = False

    @property
    def motion(self) -> str | None:
        """One of :data:`listener.drill.drill.MOTIONS`, when that is what it is."""
        return self.text if self.text in MOTIONS else None


@dataclass(frozen=True)
class LinePlan:
    """The entries of ``top`` or ``bottom``; ``for_all`` when a single one goes for every chord."""

    field: str
    entries: tuple[LineEntry, ...]
    for_all: bool

    def entry(self, place: int) -> LineEntry:
        """The entry for a chord, counted from 0 in its passage."""
        return self.entries[0] if self.for_all else self.entries[place % len(self.entries)]

    def check_length(self, table: Table, chord_count: int) -> None:
        """Complain unless there is one entry for every chord."""
        if not self.for_all and len(self.entries) != chord_count:
            there = f"{counted(len(self.entries), 'entry', 'entries')} for {counted(chord_count, 'chord')}"
            table.wrong(self.field, f"has {there}; give one for each chord, or a single one for all")


def read_line_plan(table: Table, name: str) -> LinePlan | None:
    """Read ``top`` or ``bottom``; None when it is not there or of the wrong type (which is then reported)."""
    value = table.values.get(name)
    if value is None:
        return None
    if isinstance(value, str):
        return _from_text(table, name, value)
    if is_whole(value):
        return LinePlan(name, (LineEntry(str(value), table.line(name)),), True)
    if isinstance(value, list) and value:
        return _from_list(table, name, value)
    table.wrong(name, f"must be {_EXAMPLE}, or a list of them, not {shown(value)}")
    return None


def _from_text(table: Table, name: str, value: str) -> LinePlan | None:
    lines = table.report.lines
    path = table.place(name)
    words = [(match[0], match.start()) for match in islice(_WORD.finditer(value), MOST_ENTRIES + 1)]
    if not words:
        table.wrong(name, f"is empty; write {_EXAMPLE}")
        return None
    if len(words) > MOST_ENTRIES:
        table.wrong(name, f"has more than {MOST_ENTRIES:,} entries")
        return None
    entries = [_entry(table, name, word, lines.line_in(path, index)) for word, index in words]
    return LinePlan(name, tuple(entries), len(words) == 1)


def _from_list(table: Table, name: str, value: list[Any]) -> LinePlan | None:
    entries = []
    for index, entry in enumerate(value):
        line = table.report.lines.line_of(*table.place(name), index)
        if not (isinstance(entry, str) and entry.strip()) and not is_whole(entry):
            table.report.add_at(line, f"'{name}' holds {shown(entry)}; each entry is {_EXAMPLE}")
            return None
        entries.append(_entry(table, name, str(entry).strip(), line))
    return LinePlan(name, tuple(entries), False)


def _entry(table: Table, name: str, text: str, line: int) -> LineEntry:
    pedal = _PEDAL.fullmatch(text)
    if pedal is None:
        return LineEntry(text, line)
    if name != "bottom":
        table.report.add_at(line, f"'{name}': a pedal lies at the bottom; write bottom = {' '.join(text.split())!r}")
        return LineEntry(ANY_NOTE, line)
    return LineEntry(pedal[1], line, pedal=True)


def line_for(text: str, chord: Chord) -> NoteWish:
    """What an entry fixes for this chord. :class:`MusicError` when it is no entry, or no tone of the chord."""
    if text == ANY_NOTE or text in MOTIONS:
        return NoteWish()
    if text[:1].isupper():
        pitch = parse_pitch(text)
        if pitch.midi % 12 not in chord.pitch_classes:
            raise MusicError(f"{text} is not a tone of {chord}, which has {tones_in_words(chord)}", text=text)
        return NoteWish(pitch=pitch)
    return NoteWish(degree=own_degree(chord, text))


def own_degree(chord: Chord, text: str) -> str:
    """The degree of the chord that ``text`` means: exactly that one, else (without a sign) the chord's own one.

    >>> from listener.music.chord import parse_chord
    >>> own_degree(parse_chord("Cm7"), "3"), own_degree(parse_chord("C13"), "6")
    ('b3', '13')
    """
    try:
        number, alteration = parse_degree(text)
    except MusicError:
        hint = did_you_mean(text, (*MOTIONS, ANY_NOTE)) if text.isalpha() else ""
        raise MusicError(f"'{text}' is not {_EXAMPLE}{hint and '; ' + hint}", text=text) from None
    plain = text.replace("♯", "#").replace("♭", "b")
    degrees = chord.quality.degrees
    if plain in degrees or (chord.bass is not None and plain == bass_degree(chord)):
        return plain
    numbers = {degree: parse_degree(degree) for degree in degrees}
    alike = [d for d, (n, a) in numbers.items() if (n - number) % 7 == 0 and (not alteration or a == alteration)]
    found = [degree for degree in alike if numbers[degree][0] == number] or alike
    if len(found) == 1:
        return found[0]
    if found:
        raise MusicError(f"{chord} has more than one {text}: {' and '.join(found)}; name the one meant", text=text)
    raise MusicError(f"{chord} has no {text}; its tones are {tones_in_words(chord)}", text=text)


def tones_in_words(chord: Chord) -> str:
    """The chord's degrees with their names: ``1 (C), b3 (Eb), 5 (G)``."""
    return ", ".join(f"{degree} ({tone})" for degree, tone in chord.tones.items())
