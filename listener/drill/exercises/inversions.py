"""Inversion cycle: a chord, or each of several, through all its inversions, the bass climbing or falling."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from listener.drill.exercises.chords import ChordOfChanges, read_changes
from listener.drill.exercises.spots import PassageFrame, Round, Spot, beats_each, round_of
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import WishFields

UP: Final = "up"
DOWN: Final = "down"
UP_AND_DOWN: Final = "up and down"
#: The first chord goes up, the next one down, and so on.
IN_TURN: Final = "in turn"
DIRECTIONS: Final = (UP, DOWN, UP_AND_DOWN, IN_TURN)
FIELDS: Final = ("chords", "numerals", "direction", "from_inversion", "steps", "beats_each")
_MOST_INVERSIONS: Final = 14


def inversions(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read an inversion cycle. Entries of ``kind``, ``voices`` and ``top`` count chords, not inversions."""
    direction = table.word("direction", DIRECTIONS) or UP
    first = table.whole("from_inversion", 0, 6) or 0
    count = table.whole("steps", 2, _MOST_INVERSIONS)
    beats = beats_each(table, frame)
    changes = read_changes(table, frame)
    if fields.top is not None:
        fields.top.check_length(table, changes.count)
    ways: list[tuple[ChordOfChanges, int, list[tuple[int, str | None]]]] = []
    for place, change in enumerate(changes.chords):
        size = len(change.chord.quality.degrees)
        if change.chord.bass is not None:
            table.report.add_at(change.line, f"{change.chord} has a bass of its own and cannot go through inversions")
        elif first >= size:
            table.wrong("from_inversion", f"is {first}, but {change.chord} has only 0 to {size - 1}")
        else:
            falling = direction == DOWN or (direction == IN_TURN and place % 2 == 1)
            way = list(_way(first, size, count or size, falling=falling, back=direction == UP_AND_DOWN))
            ways.append((change, place, way))
    return round_of(_spots(ways, beats), frame)


def _way(first: int, size: int, count: int, *, falling: bool, back: bool) -> Iterator[tuple[int, str | None]]:
    """The inversions in order, each with how the bass gets there."""
    step, motion = (-1, DOWN) if falling else (1, UP)
    for number in range(count):
        yield (first + step * number) % size, motion if number else None
    for number in range(count - 2, -1, -1) if back else ():
        yield (first + number) % size, DOWN


def _spots(ways: Iterable[tuple[ChordOfChanges, int, list[tuple[int, str | None]]]], beats: Fraction) -> Iterator[Spot]:
    start = Fraction(0)
    for change, place, way in ways:
        for inversion, motion in way:
            yield Spot(
                change.chord,
                start,
                beats,
                change.line,
                place,
                inversion=inversion,
                bottom_motion=motion,
                fresh=motion is None,
            )
            start += beats
