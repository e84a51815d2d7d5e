"""The least of change plus what is to go for every candidate of a big layer, without weighing every change. Exact.

Fingerings that sound alike differ in travel only. So pairs of pitch sets are looked at first, with a bound below what
any pair of their fingerings costs: the movement, and the least that is to go from any fingering of the second. The
fingering that the bound likes best gives each candidate a cost that it can have; only pairs of pitch sets whose bound
lies below that are weighed fingering by fingering. Bounds are counted in parts of a semitone, rounded down, so that
they fit into 16 bits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.planning.alignment import Tree
from listener.planning.layers import NEVER, Costs, Flags, Indices, Layer, Prices

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Moves = NDArray[np.uint16]
else:
    Moves = Any

#: Parts of a semitone in which bounds are counted, and the most that one may count what is to go.
_PARTS: Final = 32
_MOST_TO_GO: Final = 30_000
_FORBIDDEN: Final = (1 << 16) - 1
_HIGHEST_NOTE: Final = 127
#: Semitones of movement up to which bounds fit.
_MOST_MOVED: Final = (_FORBIDDEN - 1 - _MOST_TO_GO) // _PARTS


def can_shortlist(here: Layer, there: Layer, prices: Prices) -> bool:
    """Whether bounds fit: a semitone costs enough to be divided, and voices are not too many."""
    most_voices = max(here.sets.notes.shape[1], there.sets.notes.shape[1])
    return int(prices.of_movement(1)[1]) > _PARTS and most_voices * _HIGHEST_NOTE <= _MOST_MOVED


def least_onward(
    here: Layer, there: Layer, moves: Callable[[Tree], Moves], prices: Prices, to_go: Costs, allowed: Flags | None
) -> Costs:
    """For each candidate ``here`` the least cost of going on to any candidate ``there`` and to the end.

    ``moves`` gives the semitones from the pitch sets of a tree of ``here`` to all of ``there``; ``to_go`` is what each
    candidate there still costs, ``allowed`` says which pitch sets may follow which. NEVER where there is no way.
    """
    goal = _Goal(there, prices, to_go)
    best = np.full(len(here), NEVER, dtype=np.int64)
    if goal.nearest < NEVER:
        for tree in here.sets.trees:
            _settle(here, goal, tree.rows, moves(tree), best, None if allowed is None else allowed[tree.rows])
    return np.minimum(best, NEVER)


class _Goal:
    """The layer that is gone to, by pitch sets: the least to go from each, and the fingering that has it."""

    def __init__(self, layer: Layer, prices: Prices, to_go: Costs) -> None:
        self.layer, self.to_go = layer, to_go
        by_sound = to_go[layer.by_sound]
        least = np.minimum.reduceat(by_sound, layer.starts[:-1])
        order = np.lexsort((by_sound, layer.sound[layer.by_sound]))
        self.best: Indices = layer.by_sound[order[layer.starts[:-1]]]
        self.nearest = int(least.min())
        self.prices = prices.of_movement(_MOST_MOVED)
        # A little less than a semitone, so that rounded prices never lie below the bound.
        self._part = (int(self.prices[1]) - 1) // _PARTS
        self.bounds = np.minimum((least - self.nearest) // self._part, _MOST_TO_GO).astype(np.uint16)

    def in_parts(self, costs: Costs) -> Moves:
        """Costs as bounds count them."""
        found: Moves = np.minimum((costs - self.nearest) // self._part, _FORBIDDEN - 1).astype(np.uint16)
        return found


def _settle(here: Layer, goal: _Goal, rows: slice, moves: Moves, best: Costs, allowed: Flags | None) -> None:
    """The least costs of all candidates that sound some of the pitch sets."""
    bounds = moves * np.uint16(_PARTS)
    bounds += goal.bounds
    if allowed is not None:
        bounds[~allowed] = _FORBIDDEN
    candidates = here.by_sound[here.starts[rows.start] : here.starts[rows.stop]]
    row = here.sound[candidates] - rows.start
    aim = bounds.argmin(axis=1)[row]
    found = goal.prices[moves[row, aim]] + _onward(here, candidates, goal, goal.best[aim])
    found[bounds[row, aim] == _FORBIDDEN] = NEVER
    best[candidates] = found
    # Of the fingerings of one sound the dearest says how far to look.
    dearest = np.maximum.reduceat(found, here.starts[rows] - here.starts[rows.start])
    row, other = np.divmod(np.flatnonzero(bounds <= goal.in_parts(dearest)[:, None]), bounds.shape[1])
    which, one, two = _pairs(here, row + rows.start, goal.layer, other)
    costs = goal.prices[moves[row, other]][which] + _onward(here, one, goal, two)
    better = costs < best[one]
    np.minimum.at(best, one[better], costs[better])


def _onward(here: Layer, one: Indices, goal: _Goal, two: Indices) -> Costs:
    """Travel between candidates, pair by pair, and what is to go from the second."""
    travel = np.abs(here.centre[one] - goal.layer.centre[two]) * (here.pressed[one] & goal.layer.pressed[two])
    onward: Costs = travel + goal.to_go[two]
    return onward


def _pairs(here: Layer, one: Indices, there: Layer, two: Indices) -> tuple[Indices, Indices, Indices]:
    """All pairs of candidates that sound these pairs of pitch sets, and which of these each belongs to."""
    rows, columns = here.starts[one + 1] - here.starts[one], there.starts[two + 1] - there.starts[two]
    count = rows * columns
    which = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    down, across = np.divmod(number, columns[which])
    first, second = here.by_sound[here.starts[one][which] + down], there.by_sound[there.starts[two][which] + across]
    return which, first, second
