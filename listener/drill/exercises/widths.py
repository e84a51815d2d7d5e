"""Everyday and wide: every chord twice, first in the shape that everybody knows, then with room between its voices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from listener.drill.drill import NoteWish
from listener.drill.exercises.chords import read_changes
from listener.drill.exercises.spots import PassageFrame, Round, Spot, limited
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import WishFields
from listener.music.voicing import ANY, FULL, SPREAD

FIELDS = ("chords", "numerals", "times")


def widths(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read the changes; each chord's time is shared between its two shapes. ``top`` has an entry for each chord, which
    counts for the wide one."""
    times = table.whole("times", 1, 100) or 1
    changes = read_changes(table, frame)
    if fields.top is not None:
        fields.top.check_length(table, changes.count)

    def spots() -> Iterator[Spot]:
        for place, change in enumerate(changes.chords):
            half = change.length / 2
            everyday = Spot(
                change.chord,
                change.start,
                half,
                change.line,
                2 * place,
                entry=place,
                top=NoteWish(),
                fresh=True,
                unled=True,
            )
            yield everyday
            yield replace(everyday, start=change.start + half, place=2 * place + 1, top=None)

    return Round(limited(spots()), changes.bars, times)


def everyday_between(kinds: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
    """The wide kinds in turn, each after an everyday shape; spread ones where none are named."""
    wide = ((SPREAD,),) if kinds == ((ANY,),) else kinds
    return tuple(kind for one in wide for kind in ((FULL,), one))
