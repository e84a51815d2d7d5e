"""What the route search has to know about candidates, as arrays: their notes, and what tells how easy they are to hold.

Candidates that were found in arrays give them at once; others are read one by one, to the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from listener.guitar.fingering import Fingering
from listener.planning.alignment import filled
from listener.planning.drill import Weights
from listener.planning.shape_table import NO_PITCH, ShapeTable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Lengths = NDArray[np.float64]
else:
    Lengths = Any


class Choice(Protocol):
    """What the search needs of a candidate."""

    @property
    def fingering(self) -> Fingering:
        """Where it lies on the neck."""


@dataclass(frozen=True, eq=False)
class Facts:
    """Parallel arrays. ``notes`` has a row of MIDI notes for each candidate, low to high, filled up with -1;
    ``open_gap`` counts the frets by which the lowest pressed fret lies above the first one when open strings sound
    beside it; ``centre_mm`` is NaN where no finger is needed."""

    notes: NDArray[np.int16]
    stretch_mm: Lengths
    strain: Lengths
    open_gap: Lengths
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
        """What each candidate costs by itself: the sum of :func:`own_cost`."""
        cost: Lengths = (
            weights.stretch * self.stretch_mm + weights.strain * self.strain + weights.open_gap * self.open_gap
        )
        return cost


def own_cost(fingering: Fingering, weights: Weights) -> float:
    """What a fingering costs by itself: stretch, strain, and how far it lies above open strings that sound with it."""
    return (
        weights.stretch * fingering.stretch_mm + weights.strain * fingering.strain + weights.open_gap * _gap(fingering)
    )


def _gap(fingering: Fingering) -> int:
    return max(0, fingering.lowest_fret - 1) if 0 in fingering.frets else 0


def facts_of(candidates: Sequence[Choice]) -> Facts:
    """The facts about all candidates of a layer."""
    table = getattr(candidates, "table", None)
    if isinstance(table, ShapeTable):
        return _of_table(table)
    fingerings = [candidate.fingering for candidate in candidates]
    return Facts(
        notes=filled([fingering.pitches for fingering in fingerings]),
        stretch_mm=np.array([fingering.stretch_mm for fingering in fingerings]),
        strain=np.array([fingering.strain for fingering in fingerings]),
        open_gap=np.array([_gap(fingering) for fingering in fingerings], dtype=np.float64),
        centre_mm=np.array([np.nan if f.centre_mm is None else f.centre_mm for f in fingerings]),
    )


def _of_table(table: ShapeTable) -> Facts:
    frets = table.holds.frets
    pressed = np.where(frets > 0, frets, np.int8(127)).min(axis=1)
    gap = np.where((frets == 0).any(axis=1) & (pressed < 127), pressed - 1, 0)
    return Facts(
        notes=np.where(table.pitches < NO_PITCH, table.pitches, -1).astype(np.int16),
        stretch_mm=table.holds.stretch_mm,
        strain=table.holds.strain,
        open_gap=gap.astype(np.float64),
        centre_mm=table.holds.centre_mm,
    )
