"""What the route search has to know about candidates, as arrays: their notes, their fingers, and what has a price.

Candidates that were found in arrays give them at once; others are read one by one, to the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from listener.drill.drill import Wish
from listener.drill.manners import Weights
from listener.guitar.fingering import Fingering
from listener.guitar.shape_table import NO_PITCH, ShapeTable, by_note, lowest_and_highest
from listener.planning.routes.alignment import filled
from listener.planning.routes.traits import near_limit, of_the_ear, of_the_hand, of_the_strings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Lengths = NDArray[np.float64]
    Places = NDArray[np.int64]
else:
    Lengths = Places = Any

#: Strings of a guitar, where nothing else is known.
_STRINGS = 6


class Searchable(Protocol):
    """What the search needs of a candidate."""

    @property
    def fingering(self) -> Fingering:
        """Where it lies on the neck."""


@dataclass(frozen=True, eq=False)
class CandidateFacts:
    """Parallel arrays with a row for each candidate.

    ``notes`` are MIDI, low to high, filled up with -1; ``strings``, ``frets`` and ``fingers`` are parallel to them (0,
    -1 and 0 where there is no note). ``hand`` has stretch, strain, effort and habit as they are priced; ``centre_mm``
    is NaN where no finger is needed. ``wish`` is None where nobody knows it; then what the ear minds is left out.
    """

    notes: Places
    strings: Places
    frets: Places
    fingers: Places
    hand: dict[str, Lengths]
    centre_mm: Lengths
    wish: Wish | None
    string_count: int

    @cached_property
    def traits(self) -> dict[str, Lengths]:
        """The amount of everything that a candidate pays for by itself, by the name of its price."""
        found = self.hand | of_the_hand(self.notes, self.frets, self.strings, self.string_count)
        if self.wish is not None:
            found |= of_the_ear(self.notes, self.wish) | of_the_strings(self.strings, self.string_count, self.wish)
        return found

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


def facts_of(candidates: Sequence[Searchable]) -> CandidateFacts:
    """The facts about all candidates of a layer."""
    wish = getattr(candidates, "wish", None)
    table = getattr(candidates, "table", None)
    if isinstance(table, ShapeTable):
        return _of_table(table, wish)
    count = getattr(candidates, "string_count", _STRINGS)
    return _of_fingerings([candidate.fingering for candidate in candidates], wish, count)


def _of_fingerings(fingerings: Sequence[Fingering], wish: Wish | None, string_count: int) -> CandidateFacts:
    notes = filled([fingering.pitches for fingering in fingerings]).astype(np.int64)
    width = notes.shape[1]

    def columns(rows: Sequence[Sequence[int]], missing: int) -> Places:
        return np.array([[*row, *[missing] * (width - len(row))] for row in rows], dtype=np.int64).reshape(-1, width)

    return CandidateFacts(
        notes,
        columns([fingering.strings for fingering in fingerings], 0),
        columns([fingering.frets for fingering in fingerings], -1),
        columns([fingering.fingers for fingering in fingerings], 0),
        {
            "stretch": np.array([fingering.stretch_mm for fingering in fingerings]),
            "strain": near_limit(np.array([fingering.strain for fingering in fingerings])),
            "effort": np.array([fingering.effort for fingering in fingerings]),
            "habit": np.array([fingering.over_best for fingering in fingerings]),
        },
        np.array([np.nan if f.centre_mm is None else f.centre_mm for f in fingerings]),
        wish,
        string_count,
    )


def _of_table(table: ShapeTable, wish: Wish | None) -> CandidateFacts:
    holds = table.holds
    return CandidateFacts(
        np.where(table.pitches < NO_PITCH, table.pitches, -1).astype(np.int64),
        table.strings.astype(np.int64),
        by_note(holds.frets, table.strings, -1).astype(np.int64),
        by_note(holds.fingers, table.strings, 0).astype(np.int64),
        {
            "stretch": holds.stretch_mm,
            "strain": near_limit(holds.strain),
            "effort": holds.effort,
            "habit": holds.over_best,
        },
        holds.centre_mm,
        wish,
        holds.frets.shape[1],
    )
