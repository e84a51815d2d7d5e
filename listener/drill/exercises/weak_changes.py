"""Weak changes: a list of changes, each played again and again until it is one movement of the hand."""

from __future__ import annotations

from typing import Final

from listener.drill.chance import shuffled
from listener.drill.exercises.spots import PassageFrame, Round, Spot, beats_each, round_of
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import WishFields
from listener.errors import MusicError
from listener.music.chord import Chord, parse_chord
from listener.records import shown

FIELDS: Final = ("changes", "times", "beats_each")
ARROW: Final = "->"
USUAL_TIMES: Final = 4
_MOST_CHORDS: Final = 16
_EXAMPLE: Final = '["C -> Am7", "G7 -> C"]'

TimedChange = tuple[int, tuple[Chord, ...]]


def weak_changes(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read the changes. Entries of ``kind``, ``voices``, ``top`` and ``bottom`` count the chords inside a change."""
    times = table.whole("times", 1, 100) or USUAL_TIMES
    beats = beats_each(table, frame)
    changes = _changes(table)
    if "changes" in frame.shuffle:
        changes = shuffled(changes, frame.seed)
    for _, chords in changes:
        for plan in (fields.top, fields.bottom):
            if plan is not None:
                plan.check_length(table, len(chords))
    played = (
        (line, chord, place, turn)
        for line, chords in changes
        for turn in range(times)
        for place, chord in enumerate(chords)
    )
    spots = (
        Spot(chord, number * beats, beats, line, place, fresh=turn == 0 and place == 0)
        for number, (line, chord, place, turn) in enumerate(played)
    )
    return round_of(spots, frame)


def _changes(table: Table) -> list[TimedChange]:
    if not table.has("changes"):
        table.missing("changes", _EXAMPLE)
    found = []
    for index, entry in enumerate(table.filled_list("changes", f"a list such as {_EXAMPLE}") or ()):
        line = table.report.lines.line_of(*table.place("changes"), index)
        try:
            found.append((line, _change(entry)))
        except MusicError as error:
            table.report.add_at(line, f"'changes': {error}")
    return found


def _change(entry: object) -> tuple[Chord, ...]:
    words = [word.strip() for word in entry.split(ARROW)] if isinstance(entry, str) else []
    if not 2 <= len(words) <= _MOST_CHORDS or not all(words):
        raise MusicError(f"{shown(entry)} is not a change; write two chords or more, such as 'C -> Am7'")
    return tuple(parse_chord(word) for word in words)
