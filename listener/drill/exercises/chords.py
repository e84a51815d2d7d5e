"""The fields ``chords`` and ``numerals``: the changes of an exercise, written out in bars."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from listener.drill.exercises.spots import PassageFrame
from listener.drill.reading.fields import Table
from listener.drill.reading.fixed_notes import NOTES, FixedNotes
from listener.errors import MusicError
from listener.music.chord import UNNAMED, Chord, is_no_chord, parse_chord
from listener.music.roman import parse_roman
from listener.music.scale import Key
from listener.tunes.bars import read_bars

NOTATIONS = ("chords", "numerals")


@dataclass(frozen=True, slots=True)
class ChordOfChanges:
    """One chord of the changes: when it falls and how long it lasts in beats, and the line it is written on."""

    chord: Chord
    start: Fraction
    length: Fraction
    line: int
    bar: int


@dataclass(frozen=True, slots=True)
class Changes:
    """All of them, and the bars they take. ``count`` includes the chords that could not be read."""

    chords: tuple[ChordOfChanges, ...] = ()
    bars: int = 0
    count: int = 0


def read_changes(table: Table, frame: PassageFrame, notes: Sequence[FixedNotes | None] | None = ()) -> Changes:
    """Read ``chords`` or ``numerals``, one of which has to be there; what is wrong is reported and left out.

    A chord without a name, ``?``, is what its ``notes`` say; they have an entry for each chord (None where they
    cannot be read, which is reported elsewhere).
    """
    name, read = _notation(table, frame.key)
    written = table.values.get(name) if name else None
    if written is None:
        return Changes()
    if not isinstance(written, str):
        table.text(name)  # says what is wrong with its type
        return Changes()
    bars = read_bars(written)
    path = table.place(name)
    lines = table.report.lines
    for misprint in bars.misprints:
        table.report.add_at(lines.line_in(path, misprint.index), f"'{name}', {misprint.text}")
    found: list[ChordOfChanges] = []
    sounding = [timed for timed in bars.timed if not is_no_chord(timed.word.text)]
    for place, timed in enumerate(sounding):
        line = lines.line_in(path, timed.word.index)
        if timed.word.text == UNNAMED and notes is None:
            continue
        try:
            chord = read(timed.word.text) if timed.word.text != UNNAMED else _unnamed(notes or (), place)
        except MusicError as error:
            table.report.add_at(line, f"'{name}', bar {timed.word.bar}: {error}")
            continue
        beats = frame.bar_beats
        found.append(ChordOfChanges(chord, timed.start * beats, timed.length * beats, line, timed.word.bar))
    if not sounding and not bars.misprints:
        table.wrong(name, 'holds no chord; write for example "C | Am7 D7 | G"')
    return Changes(tuple(found), bars.count, len(sounding))


def _unnamed(notes: Sequence[FixedNotes | None], place: int) -> Chord:
    fixed = notes[place] if place < len(notes) else None
    if fixed is None:
        raise MusicError(f"'{UNNAMED}' stands for notes without a name; say which they are in '{NOTES}', or name it")
    return fixed.unnamed


def _notation(table: Table, key: Key | None) -> tuple[str, Callable[[str], Chord]]:
    """The field that holds the chords, and what reads one of them; a complaint when there is none, or two."""
    if table.has("chords") and table.has("numerals"):
        table.wrong("numerals", "and 'chords' say the same thing twice; keep one of them")
    if not table.has("numerals") or table.has("chords"):
        if not table.has("chords"):
            table.missing("chords", '"C | Am7 D7 | G"')
        return "chords", parse_chord
    if key is None:
        return "", parse_chord
    return "numerals", lambda text: parse_roman(text, key)
