"""What a change asks of the hand: fingers that stay, slide, jump or have to make way, and the way along the neck.

Every candidate is a shape with a finger for each note. A change from one to another costs

- ``travel`` per millimetre that the middle of the hand moves, and ``shift`` per fret that its position does: the fret
  where the first finger is, or would be (nothing to or from open strings),
- ``refinger`` for a pressed note that both have on the same string and fret but under different fingers,
- ``slide`` for a finger that presses on a string of its own again at another fret, a guide finger,
- ``place`` for any other finger that is set down,
- ``barre`` for a finger that is laid flat or lifted from flat.

All are sums over fingers and strings, so they can be looked up in small tables: a hundred different things that a
finger does, instead of a million pairs of candidates.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from listener.drill.manners import Weights
from listener.guitar.hand import FINGERS
from listener.planning.routes.facts import CandidateFacts
from listener.planning.shapes.neck import bit_count

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Costs = NDArray[np.int64]
    Numbers = NDArray[np.int64]
    Indices = NDArray[np.intp]
    Lengths = NDArray[np.float64]
else:
    Costs = Numbers = Indices = Lengths = Any

_FRETS: Final = 40


class Priced(Protocol):
    """What one of each costs, in whole numbers."""

    @property
    def weights(self) -> Weights:
        """The weights behind the prices."""

    def of_comfort(self, values: Lengths) -> Costs:
        """Prices of things counted in the weights' unit."""

    def of_one(self, name: str) -> int:
        """The price of one."""


@dataclass(frozen=True, slots=True, eq=False)
class Hands:
    """How candidates lie under the fingers, as parallel arrays of indices.

    ``shape`` leads to ``shapes``, the different rows of pressed frets (a column for each string, 0 where none is
    pressed). ``spot`` leads to ``spots``: the middle of the hand in mm and its position in frets, NaN without a finger.
    ``doing`` has two columns that lead to ``pairs``: what fingers 1 and 2 do, and what 3 and 4 do. A row of ``pairs``
    is fret and strings (as bits) of the one, then of the other, 0 for a finger that does not press.
    """

    shape: Indices
    spot: Indices
    doing: Indices
    shapes: Numbers
    spots: Lengths
    pairs: Numbers

    @classmethod
    def of(cls, facts: CandidateFacts, place: Indices) -> Hands:
        """Those of some candidates."""
        strings, frets, fingers = facts.strings[place], facts.frets[place], facts.fingers[place]
        width = int(facts.strings.max(initial=1))
        pressed = np.zeros((len(place), width), dtype=np.int64)
        row, column = np.nonzero(frets > 0)
        pressed[row, strings[row, column] - 1] = frets[row, column]
        shapes, shape = _different(pressed)
        states = np.zeros((len(place), 2 * FINGERS), dtype=np.int64)
        for finger in range(1, FINGERS + 1):
            mine = (fingers == finger) & (frets > 0)
            states[:, 2 * finger - 2] = np.where(mine, frets, 0).max(axis=1, initial=0)
            states[:, 2 * finger - 1] = np.where(mine, 1 << strings, 0).sum(axis=1)
        pairs, doing = _different(np.concatenate([states[:, :4], states[:, 4:]]))
        spots, spot = _different(np.stack([facts.centre_mm[place], positions(frets, fingers)], axis=1))
        return cls(
            shape=shape,
            spot=spot,
            doing=np.stack([doing[: len(place)], doing[len(place) :]], axis=1),
            shapes=shapes,
            spots=spots,
            pairs=pairs,
        )


def positions(frets: Numbers, fingers: Numbers) -> Lengths:
    """The fret where each first finger is or would be, by the lowest finger that presses; NaN without any."""
    pressing = np.where(frets > 0, fingers, FINGERS + 1)
    lowest = pressing.argmin(axis=1)
    row = np.arange(len(frets))
    finger = pressing[row, lowest]
    position = frets[row, lowest] - np.maximum(finger, 1) + 1
    return np.where(finger > FINGERS, np.nan, position.astype(np.float64))


def _different(rows: Any) -> tuple[Any, Indices]:
    """Different rows, and which of them each row is."""
    if not len(rows):
        return rows, np.zeros(0, dtype=np.intp)
    found, which = np.unique(rows, axis=0, return_inverse=True)
    return found, which.reshape(-1)


def add_hand_changes(costs: Costs, before: Hands, after: Hands, prices: Priced, rows: Any, columns: Any) -> None:
    """Add what the hand pays from some candidates to some others, pair by pair."""
    weights = prices.weights
    if weights.travel or weights.shift:
        add_looked_up(
            costs,
            before.spot[rows],
            after.spot[columns],
            lambda one, other: _way(before.spots[one], after.spots[other], prices),
        )
    if weights.refinger:
        add_looked_up(
            costs,
            before.shape[rows],
            after.shape[columns],
            lambda one, other: prices.of_one("refinger") * _same(before.shapes[one], after.shapes[other]),
        )
    if weights.refinger or weights.slide or weights.place or weights.barre:
        for pair in range(2):
            add_looked_up(
                costs,
                before.doing[rows, pair],
                after.doing[columns, pair],
                lambda one, other: _of_fingers(before.pairs[one], after.pairs[other], prices),
            )


def add_looked_up(costs: Costs, rows: Indices, columns: Indices, table: Callable[[Indices, Indices], Costs]) -> None:
    """Add a small table of all that differs, spread out over all pairs."""
    one, row = np.unique(rows, return_inverse=True)
    other, column = np.unique(columns, return_inverse=True)
    wide = table(one, other).take(column.reshape(-1), axis=1)
    costs += wide if len(one) == 1 else wide.take(row.reshape(-1), axis=0)


def _way(here: Lengths, there: Lengths, prices: Priced) -> Costs:
    """The way along the neck; nothing to and from open strings."""
    costs = np.zeros((len(here), len(there)), dtype=np.int64)
    for column, price in enumerate((prices.weights.travel, prices.weights.shift)):
        one = prices.of_comfort(price * np.nan_to_num(here[:, column]))
        other = prices.of_comfort(price * np.nan_to_num(there[:, column]))
        costs += np.abs(one[:, None] - other)
    costs *= ~np.isnan(here[:, 0])[:, None] & ~np.isnan(there[:, 0])
    return costs


def _same(before: Numbers, after: Numbers) -> Numbers:
    """How many pressed notes two shapes share, on the same string and fret."""
    width = min(before.shape[1], after.shape[1])
    found = np.zeros((len(before), len(after)), dtype=np.int64)
    for string in range(width):
        found += (before[:, string, None] == after[:, string]) & (after[:, string] > 0)
    return found


def _of_fingers(before: Numbers, after: Numbers, prices: Priced) -> Costs:
    """What two fingers pay for going from what they did to what they do; a note kept by its finger is given back."""
    total = np.zeros((len(before), len(after)), dtype=np.int64)
    for finger in range(2):
        fret, strings = before[:, 2 * finger, None], before[:, 2 * finger + 1, None]
        to_fret, to_strings = after[:, 2 * finger], after[:, 2 * finger + 1]
        both = (fret > 0) & (to_fret > 0)
        shared = bit_count(strings & to_strings).astype(np.int64)
        kept = both & (fret == to_fret) & (shared > 0)
        slid = both & ~kept & (shared > 0)
        flat, to_flat = bit_count(strings) > 1, bit_count(to_strings) > 1
        placed = (to_fret > 0) & ~kept & ~slid
        total += prices.of_one("slide") * slid + prices.of_one("place") * placed
        total += prices.of_one("barre") * (flat != to_flat) - prices.of_one("refinger") * (shared * kept)
    return total


def most_of_change(weights: Weights, reach_mm: float, strings: int) -> float:
    """More than a change can ever cost the hand."""
    fingers = FINGERS * (weights.slide + weights.place + weights.barre)
    return (
        weights.travel * reach_mm + weights.shift * _FRETS + weights.refinger * strings + fingers + weights.leap * 127
    )
