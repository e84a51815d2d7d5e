"""All shapes that one chord's tones have under one hand, kept as a table from which wishes take their rows.

Wishes for one chord differ in top note, bottom note and inversion: the neck is searched once and serves them all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.guitar.fingering import Barre, Fingering
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import Area
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, SPREAD
from listener.planning.shapes.holds import Holds, holds
from listener.planning.shapes.neck import Tones, shapes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Chosen = NDArray[np.bool_]
    Pitches = NDArray[np.int16]
else:
    Chosen = Pitches = Any

#: Stands behind the notes of a shape where it has fewer than the instrument has strings.
NO_PITCH: Final = 1 << 8


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

    def spaced(self, kind: str, skipped: int = 0, added: int = 0) -> Chosen:
        """Rows of all different tones that have the spacing of a kind, all but their ``skipped`` lowest and ``added``
        highest notes. The rules are those of :func:`listener.music.voicing.spacing_of`."""
        width = {SPREAD: 3, DROP_2: 4, DROP_3: 4, DROP_2_4: 4}.get(kind)
        count = self.count - skipped - added
        if kind == CLOSE:
            last = np.maximum(self.count - 1 - added, 0)
            spans = self.pitches[np.arange(len(self)), last] - self.pitches[:, min(skipped, self.pitches.shape[1] - 1)]
            close: Chosen = (count > 1) & (spans < 12)
            return close
        if width is None:
            raise ValueError(f"'{kind}' is no spacing")
        if self.pitches.shape[1] < skipped + width:
            return np.zeros(len(self), dtype=bool)
        spaced: Chosen = (count == width) & _SPACINGS[kind](*self.pitches[:, skipped : skipped + width].T)
        return spaced

    def taken(self, rows: NDArray[Any]) -> ShapeTable:
        """Some of the rows, by index or by truth."""
        return ShapeTable(self.holds.taken(rows), self.pitches[rows], self.strings[rows], self.count[rows])

    def fingerings(self, rows: NDArray[np.intp]) -> list[Fingering]:
        """The shapes of some rows as values."""
        chosen = self.holds.taken(rows)
        strings = self.strings[rows]
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


def _spread(low: Pitches, middle: Pitches, high: Pitches) -> Chosen:
    return (low < high - 12) & (high - 12 < middle) & (middle < low + 12)


def _drop_2(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n3 < n1 + 12) & (n1 + 12 < n4) & (n4 < n2 + 12)


def _drop_3(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n2 < n1 + 12) & (n1 + 12 < n3) & (n4 < n2 + 12)


def _drop_2_4(n1: Pitches, n2: Pitches, n3: Pitches, n4: Pitches) -> Chosen:
    return (n1 + 12 < n3) & (n3 < n2 + 12) & (n2 + 12 < n4) & (n4 < n1 + 24)


#: Each kind by its notes from the lowest up: the lowered voices raised again lie close.
_SPACINGS: Final[dict[str, Callable[..., Chosen]]] = {
    SPREAD: _spread,
    DROP_2: _drop_2,
    DROP_3: _drop_3,
    DROP_2_4: _drop_2_4,
}


@lru_cache(maxsize=96)
def shape_table(instrument: Instrument, hand: Hand, tones: Tones, limits: Area) -> ShapeTable:
    """Every shape of these tones inside the limits that the hand holds; errors as for :func:`shapes`."""
    return table_of(instrument, hand, shapes(instrument, hand.longest_mm, tones, limits))


def table_of(instrument: Instrument, hand: Hand, frets: NDArray[np.int8]) -> ShapeTable:
    """Those of some shapes that the hand holds; ``frets`` has a column for each string, lowest first, -1 muted."""
    found = holds(instrument, hand, frets)
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


def _position_order(found: Holds, strings: Pitches) -> NDArray[np.intp]:
    """The order of :func:`listener.guitar.search.position_order`: from the nut up, then by frets and strings."""
    pressed = np.where(found.frets > 0, found.frets, np.int8(127)).min(axis=1)
    lowest = np.where(pressed == 127, 0, pressed)
    highest = np.maximum(found.frets, 0).max(axis=1)
    frets = by_note(found.frets, strings, -1)
    keys = [lowest, highest, *frets.T, *strings.T]
    order: NDArray[np.intp] = np.lexsort(keys[::-1])
    return order
