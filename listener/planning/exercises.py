"""What a passage drills: a progression, or a scale run. Each becomes spots: chords in time, with the line of the file.

A progression is written out in bars, as chord symbols or as Roman numerals of the passage's key. A scale run puts a
chord on every step of a scale, all of one kind and one inversion, so that the top notes climb the scale by step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord, is_no_chord, parse_chord
from listener.music.roman import parse_roman
from listener.music.scale import Key
from listener.planning.drill import Line
from listener.planning.fields import Table
from listener.planning.progression import read_bars
from listener.planning.wish_fields import WishFields

PROGRESSION: Final = "progression"
SCALE_RUN: Final = "scale run"
#: The exercises, each with the fields of its own.
EXERCISE_FIELDS: Final = {
    PROGRESSION: ("chords", "numerals", "times"),
    SCALE_RUN: ("scale", "chord_size", "direction", "octaves", "steps", "beats_each", "from_degree", "start"),
}
MOST_TIMES: Final = 100


@dataclass(frozen=True, slots=True)
class Spot:
    """A chord in time, in beats from the start of its passage. ``place`` counts from 0 in one round of the passage;
    ``top`` and ``inversion`` are set where the exercise itself fixes them."""

    chord: Chord
    start: Fraction
    length: Fraction
    line: int
    place: int
    top: Line | None = None
    inversion: int | None = None


@dataclass(frozen=True, slots=True)
class Round:
    """The spots of an exercise played once, the bars it takes, and how often it is played."""

    spots: tuple[Spot, ...]
    bars: int
    times: int = 1


def progression(table: Table, fields: WishFields, key: Key | None, bar_beats: int) -> Round:
    """Read a progression; ``key`` is for numerals, ``bar_beats`` the beats of a bar."""
    name, read = _notation(table, key)
    written = table.values.get(name) if name else None
    times = table.whole("times", 1, MOST_TIMES) or 1
    if written is None:
        return Round((), 0)
    if not isinstance(written, str):
        table.text(name)  # says what is wrong with its type
        return Round((), 0)
    bars = read_bars(written)
    path = (*table.path, name)
    lines = table.report.lines
    for misprint in bars.misprints:
        table.report.add_at(lines.line_in(path, misprint.index), f"'{name}', {misprint.text}")
    spots: list[Spot] = []
    sounding = [timed for timed in bars.timed if not is_no_chord(timed.word.text)]
    for place, timed in enumerate(sounding):
        line = lines.line_in(path, timed.word.index)
        try:
            chord = read(timed.word.text)
        except MusicError as error:
            table.report.add_at(line, f"'{name}', bar {timed.word.bar}: {error}")
            continue
        spots.append(
            Spot(chord, timed.start * bar_beats, timed.length * bar_beats, line, place, None, fields.inversion)
        )
    for plan in (fields.top, fields.bottom):
        if plan is not None:
            plan.check_length(table, len(sounding))
    if not sounding and not bars.misprints:
        table.wrong(name, 'holds no chord; write for example "C | Am7 D7 | G"')
    return Round(tuple(spots), bars.count, times)


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
