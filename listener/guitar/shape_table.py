"""Shapes that a hand holds, from the nut up, as a table: notes, strings, frets and fingers of many at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.guitar.fingering import Barre, Fingering
from listener.guitar.hand import Hand
from listener.guitar.holds import Holds, Ways, holds
from listener.guitar.instrument import Instrument

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Chosen = NDArray[np.bool_]
    Pitches = NDArray[np.int16]
else:
    Chosen = Pitches = Any

#: Stands behind the notes of a shape where it has fewer than the instrument has strings.
NO_PITCH: Final = 1 << 8
_ALL: Final = slice(None)
_NONE: Final = 127


@dataclass(frozen=True)
class ShapeTable:
    """Shapes from the nut up, with their notes from the lowest pitch to the highest.

    ``pitches`` and ``strings`` have a row for each shape and ``count`` of its columns in use, the others hold
    :data:`NO_PITCH` and 0; ``count`` is the number of sounding strings.
    """

    holds: Holds
    pitches: Pitches
    strings: Pitches
    count: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.count)

    @cached_property
    def top(self) -> Pitches:
        """The highest note of each shape."""
        top: Pitches = self.pitches[np.arange(len(self)), self.count - 1]
        return top

    @property
    def bottom(self) -> Pitches:
        """The lowest note of each shape."""
        bottom: Pitches = self.pitches[:, 0]
        return bottom

    def taken(self, rows: NDArray[Any]) -> ShapeTable:
        """Some of the rows, by index or by truth."""
        return ShapeTable(self.holds.taken(rows), self.pitches[rows], self.strings[rows], self.count[rows])

    def fingerings(self, rows: NDArray[np.intp] | slice = _ALL) -> list[Fingering]:
        """The shapes of all or some rows as values."""
        chosen, strings = self.holds.taken(rows), self.strings[rows]
        return [
            Fingering(
                tuple(pitches[:count]),
                tuple(on[:count]),
                tuple(frets[:count]),
                tuple(fingers[:count]),
                Barre(*barre) if barre[0] else None,
                stretch,
                strain,
                centre if centre == centre else None,
                effort,
                over_best,
            )
            for count, pitches, on, frets, fingers, barre, stretch, strain, centre, effort, over_best in zip(
                self.count[rows].tolist(),
                self.pitches[rows].tolist(),
                strings.tolist(),
                by_note(chosen.frets, strings, -1).tolist(),
                by_note(chosen.fingers, strings, 0).tolist(),
                chosen.barre.tolist(),
                chosen.stretch_mm.tolist(),
                chosen.strain.tolist(),
                chosen.centre_mm.tolist(),
                chosen.effort.tolist(),
                chosen.over_best.tolist(),
                strict=True,
            )
        ]


def fret_rows(shapes: Iterable[Iterable[tuple[int, int]]], string_count: int) -> NDArray[np.int8]:
    """Shapes of (string, fret) pairs as rows of frets: a column for each string, lowest first, -1 muted."""
    rows = []
    for shape in shapes:
        row = [-1] * string_count
        for string, fret in shape:
            row[-string] = fret
        rows.append(row)
    return np.array(rows, dtype=np.int8).reshape(-1, string_count)


def table_of(instrument: Instrument, hand: Hand, frets: NDArray[np.int8], ways: Ways = Ways.SENSIBLE) -> ShapeTable:
    """Those of some shapes that the hand holds, once for each of these ways; ``frets`` as in :func:`fret_rows`."""
    found = holds(instrument, hand, frets, ways)
    strings = found.frets.shape[1]
    number = np.arange(strings, 0, -1, dtype=np.int16)
    midi = np.array(instrument.open_midi[::-1], dtype=np.int16) + found.frets
    # Equal notes come with the lower string first, as everywhere.
    keys = np.sort(np.where(found.frets >= 0, midi * 32 + (31 - number), NO_PITCH * 32 + 31), axis=1)
    pitches, on = (keys >> 5).astype(np.int16), (31 - (keys & 31)).astype(np.int16)
    order = _position_order(found, on)
    return ShapeTable(found.taken(order), pitches[order], on[order], (found.frets >= 0).sum(axis=1)[order])


def joined(tables: Sequence[ShapeTable]) -> tuple[ShapeTable, NDArray[np.intp]]:
    """Several tables as one, from the nut up, with the number of the table that each shape comes from.

    A shape that several tables have comes from the first of them.
    """
    origin = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
    if len(tables) == 1:
        return tables[0], origin
    all_holds = Holds(
        *(np.concatenate(parts) for parts in zip(*(_columns(table.holds) for table in tables), strict=True))
    )
    pitches = np.concatenate([table.pitches for table in tables])
    strings = np.concatenate([table.strings for table in tables])
    order = _position_order(all_holds, strings)
    order = order[_first_told(all_holds.frets[order], origin[order])]
    count = np.concatenate([table.count for table in tables])
    return ShapeTable(all_holds, pitches, strings, count).taken(order), origin[order]


def _first_told(frets: NDArray[np.int8], origin: NDArray[np.intp]) -> Chosen:
    """Of rows in order those from the first table that has their shape; a shape comes once for each way to hold it."""
    fresh = np.ones(len(frets), dtype=bool)
    fresh[1:] = (frets[1:] != frets[:-1]).any(axis=1)
    first: Chosen = origin == origin[fresh][np.cumsum(fresh) - 1]
    return first


def _columns(found: Holds) -> list[NDArray[Any]]:
    return [getattr(found, field.name) for field in fields(Holds)]


def by_note(columns: NDArray[np.int8], strings: Pitches, missing: int) -> NDArray[np.int8]:
    """What ``columns`` has for each string, lowest first, put in the order of the notes on these ``strings``; where
    there is no note (string 0), ``missing``."""
    width = columns.shape[1]
    column = np.clip(width - strings, 0, width - 1).astype(np.int64)
    found: NDArray[np.int8] = np.where(strings > 0, np.take_along_axis(columns, column, axis=1), np.int8(missing))
    return found


def lowest_and_highest(frets: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
    """The lowest and the highest pressed fret of each row; 0 where only open strings sound."""
    lowest = np.where(frets > 0, frets, frets.dtype.type(_NONE)).min(axis=1, initial=_NONE)
    return np.where(lowest == _NONE, 0, lowest), np.maximum(frets, 0).max(axis=1, initial=0)


def _position_order(found: Holds, strings: Pitches) -> NDArray[np.intp]:
    """From the nut up, then by frets and strings: the order in which ties are decided."""
    frets = by_note(found.frets, strings, -1)
    keys = [*lowest_and_highest(found.frets), *frets.T, *strings.T]
    order: NDArray[np.intp] = np.lexsort(keys[::-1])
    return order
