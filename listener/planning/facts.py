"""What the route search has to know about candidates, as arrays: their notes, their fingers, and what has a price.

Candidates that were found in arrays give them at once; others are read one by one, to the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from listener.guitar.fingering import Fingering
from listener.planning.alignment import filled
from listener.planning.drill import Wish
from listener.planning.manners import Weights
from listener.planning.shape_table import NO_PITCH, ShapeTable
from listener.planning.traits import lowest_and_highest, near_limit, of_the_ear, of_the_hand

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Lengths = NDArray[np.float64]
    Places = NDArray[np.int64]
else:
    Lengths = Places = Any

#: Strings of a guitar, where nothing else is known.
_STRINGS = 6


class Choice(Protocol):
    """What the search needs of a candidate."""

    @property
    def fingering(self) -> Fingering:
        """Where it lies on the neck."""


@dataclass(frozen=True, eq=False)
class Facts:
    """Parallel arrays with a row for each candidate.

    ``notes`` are MIDI, low to high, filled up with -1; ``strings``, ``frets`` and ``fingers`` are parallel to them (0,
    -1 and 0 where there is no note). ``traits`` has the amount of everything that a candidate pays for by itself, by
    the name of its price. ``centre_mm`` is NaN where no finger is needed.
    """

    notes: Places
    strings: Places
    frets: Places
    fingers: Places
    traits: dict[str, Lengths]
    centre_mm: Lengths

    def pitch_sets(self) -> tuple[tuple[int, ...], ...]:
        """The different pitch sets, in order."""
        order = np.lexsort(self.notes.T[::-1])
        notes = self.notes[order]
        new = np.concatenate([[True], (notes[1:] != notes[:-1]).any(axis=1)]) if len(notes) else np.zeros(0, dtype=bool)
        sets = notes[new]
        sizes = (sets >= 0).sum(axis=1).tolist()
        return tuple([tuple(row[:size]) for row, size in zip(sets.tolist(), sizes, strict=True)])

    def own(self, weights: Weights) -> Lengths:
        """What each candidate costs by itself: every trait times its price, and where on the neck it lies."""
        lowest, highest = lowest_and_highest(self.frets)
        cost: Lengths = weights.fret * np.maximum(highest - weights.high_fret, 0)
        cost = cost + weights.position * np.where(lowest > 0, np.abs(lowest - weights.low_fret), 0)
        for name, amounts in self.traits.items():
            cost = cost + getattr(weights, name) * amounts
        return cost


def own_cost(fingering: Fingering, weights: Weights, wish: Wish | None = None) -> float:
    """What a fingering costs by itself; without a wish, what the ear minds is left out."""
    return float(_of_fingerings([fingering], wish, _STRINGS).own(weights)[0])


def facts_of(candidates: Sequence[Choice]) -> Facts:
    """The facts about all candidates of a layer."""
    wish = getattr(candidates, "wish", None)
    table = getattr(candidates, "table", None)
    if isinstance(table, ShapeTable):
        return _of_table(table, wish)
    count = getattr(candidates, "string_count", _STRINGS)
    return _of_fingerings([candidate.fingering for candidate in candidates], wish, count)


def _of_fingerings(fingerings: Sequence[Fingering], wish: Wish | None, string_count: int) -> Facts:
    notes = filled([fingering.pitches for fingering in fingerings]).astype(np.int64)
    width = notes.shape[1]

    def columns(rows: Sequence[Sequence[int]], missing: int) -> Places:
        return np.array([[*row, *[missing] * (width - len(row))] for row in rows], dtype=np.int64).reshape(-1, width)

    return _facts(
        notes,
        columns([fingering.strings for fingering in fingerings], 0),
        columns([fingering.frets for fingering in fingerings], -1),
        columns([fingering.fingers for fingering in fingerings], 0),
        np.array([np.nan if f.centre_mm is None else f.centre_mm for f in fingerings]),
        {
            "stretch": np.array([fingering.stretch_mm for fingering in fingerings]),
            "strain": near_limit(np.array([fingering.strain for fingering in fingerings])),
            "effort": np.array([fingering.effort for fingering in fingerings]),
        },
        wish,
        string_count,
    )


def _of_table(table: ShapeTable, wish: Wish | None) -> Facts:
    holds = table.holds
    strings = table.strings.astype(np.int64)
    column = np.clip(holds.frets.shape[1] - strings, 0, holds.frets.shape[1] - 1)
    sounds = strings > 0
    return _facts(
        np.where(table.pitches < NO_PITCH, table.pitches, -1).astype(np.int64),
        strings,
        np.where(sounds, np.take_along_axis(holds.frets, column, axis=1), -1).astype(np.int64),
        np.where(sounds, np.take_along_axis(holds.fingers, column, axis=1), 0).astype(np.int64),
        holds.centre_mm,
        {"stretch": holds.stretch_mm, "strain": near_limit(holds.strain), "effort": holds.effort},
        wish,
        holds.frets.shape[1],
    )


def _facts(
    notes: Places,
    strings: Places,
    frets: Places,
    fingers: Places,
    centre_mm: Lengths,
    hand: dict[str, Lengths],
    wish: Wish | None,
    string_count: int,
) -> Facts:
    ear = of_the_ear(notes, wish) if wish is not None else {}
    return Facts(
        notes, strings, frets, fingers, hand | of_the_hand(notes, frets, strings, string_count) | ear, centre_mm
    )
