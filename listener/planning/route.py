"""The best way through a drill: one candidate for every step, at the least total cost. Exact, not a heuristic.

The steps are layers of a graph, and a route takes one candidate from each. Its cost is the sum of

- per change ``weights.movement`` · the movement cost between the two pitch sets (semitones, with the price of voices
  that enter, leave, split or merge: :mod:`listener.music.movement`),
- per change ``weights.travel`` · millimetres the hand's centre moves (0 when either step needs no finger),
- per step ``weights.stretch`` · stretch in mm, ``weights.strain`` · strain, and ``weights.open_gap`` · the frets by
  which the lowest pressed fret lies above the first one, when open strings sound beside pressed ones.

It is found by dynamic programming from the last step back (R. Bellman, "Dynamic Programming", 1957; for guitar
fingering S. Sayegh, Computer Music Journal 13(3), 1989). Costs are added as whole millionths, so equal routes tie
exactly on every machine; of equal routes the one that takes the earliest candidates wins, first step first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from listener.guitar.fingering import Fingering
from listener.music.movement import ENTER_COST, LEAVE_COST, MERGE_COST, SPLIT_COST
from listener.planning.drill import Weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Costs = NDArray[np.int64]
    Semitones = NDArray[np.int16]
else:
    Costs = Semitones = Any

#: Costs are whole numbers of this part of one.
UNITS: Final = 1_000_000
#: Candidate pairs worked on at once and kept at most: 2 MB of costs, whatever the size of the drill's wishes.
_KEPT_CELLS: Final = 250_000
#: More than any route costs; stands for "not reachable" inside an alignment.
_NEVER: Final = 1 << 14


class Choice(Protocol):
    """What the search needs of a candidate."""

    @property
    def fingering(self) -> Fingering:
        """Where it lies on the neck."""


@dataclass(frozen=True, slots=True)
class Route:
    """``choice`` holds the index taken in each layer, ``cost`` the total in the weights' unit."""

    choice: tuple[int, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class _Layer:
    """One step as arrays: ``own`` cost and ``centre`` (travel cost from the nut) per candidate, in millionths.

    ``sets`` are the distinct pitch sets, ``which`` says for each candidate which of them it sounds; ``pressed`` is
    False where no finger is needed.
    """

    sets: tuple[tuple[int, ...], ...]
    which: NDArray[np.intp]
    own: Costs
    centre: Costs
    pressed: NDArray[np.bool_]


def best_route(layers: Sequence[Sequence[Choice]], weights: Weights) -> Route:
    """The least-cost route, one index per layer; a layer without candidates is a ValueError.

    Ties go to the lowest index in the first layer where they differ, so the order within a layer is the
    order of preference.
    """
    if not layers:
        return Route((), 0.0)
    for index, layer in enumerate(layers):
        if not layer:
            raise ValueError(f"layer {index} has no candidates")
    shared = {id(layer): layer for layer in layers}
    made = {key: _layer(layer, weights) for key, layer in shared.items()}
    search = _Search([made[id(layer)] for layer in layers], weights)
    to_go = search.costs_to_go()
    return Route(search.follow(to_go), int(to_go[0].min()) / UNITS)


class _Search:
    """The layers of one search, with the changes between them kept while they are small: drills repeat themselves."""

    def __init__(self, tables: list[_Layer], weights: Weights) -> None:
        self.tables = tables
        self.weights = weights
        self._kept: dict[tuple[int, int], Costs] = {}

    def costs_to_go(self) -> list[Costs]:
        """For every layer the least cost from each of its candidates to the end."""
        to_go = [self.tables[-1].own]
        for before, after in zip(reversed(self.tables[:-1]), reversed(self.tables[1:]), strict=True):
            to_go.append(before.own + self._cheapest_way_on(before, after, to_go[-1]))
        return to_go[::-1]

    def follow(self, to_go: list[Costs]) -> tuple[int, ...]:
        """Walk forward along the least cost to go; argmin takes the first of equals."""
        choice = [int(to_go[0].argmin())]
        for index in range(1, len(self.tables)):
            row = self._changes(self.tables[index - 1], self.tables[index], slice(choice[-1], choice[-1] + 1))
            choice.append(int((row[0] + to_go[index]).argmin()))
        return tuple(choice)

    def _cheapest_way_on(self, before: _Layer, after: _Layer, to_go: Costs) -> Costs:
        """For each candidate of ``before`` the least cost of a change plus what is to go from there."""
        cells = len(before.own) * len(after.own)
        if cells <= _KEPT_CELLS:
            key = (id(before), id(after))
            if key not in self._kept:
                self._kept[key] = self._changes(before, after, slice(None))
            return least_of_rows(self._kept[key], to_go)
        size = max(1, _KEPT_CELLS // len(after.own))
        blocks = [slice(start, start + size) for start in range(0, len(before.own), size)]
        return np.concatenate([least_of_rows(self._changes(before, after, block), to_go) for block in blocks])

    def _changes(self, before: _Layer, after: _Layer, rows: slice) -> Costs:
        """Cost of the change from each of some rows of ``before`` to each candidate of ``after``."""
        sounded, which = np.unique(before.which[rows], return_inverse=True)
        moved = movement_costs([before.sets[int(index)] for index in sounded], after.sets)
        prices = _millionths([self.weights.movement * cost for cost in range(int(moved.max()) + 1)])
        costs: Costs = prices[moved][np.ix_(which, after.which)]
        travel = np.abs(before.centre[rows, None] - after.centre)
        if not (before.pressed.all() and after.pressed.all()):
            travel *= before.pressed[rows, None] & after.pressed
        costs += travel
        return costs


def least_of_rows(changes: Costs, to_go: Costs) -> Costs:
    """The inner step of the search: for each row the least of change plus what is to go."""
    least: Costs = (changes + to_go).min(axis=1)
    return least


def _layer(candidates: Sequence[Choice], weights: Weights) -> _Layer:
    fingerings = [candidate.fingering for candidate in candidates]
    sets = tuple(sorted({fingering.pitches for fingering in fingerings}))
    place = {pitches: index for index, pitches in enumerate(sets)}
    own = [_own_cost(fingering, weights) for fingering in fingerings]
    centres = [weights.travel * (fingering.centre_mm or 0.0) for fingering in fingerings]
    return _Layer(
        sets=sets,
        which=np.array([place[fingering.pitches] for fingering in fingerings], dtype=np.intp),
        own=_millionths(own),
        centre=_millionths(centres),
        pressed=np.array([fingering.centre_mm is not None for fingering in fingerings]),
    )


def _own_cost(fingering: Fingering, weights: Weights) -> float:
    gap = max(0, fingering.lowest_fret - 1) if 0 in fingering.frets else 0
    return weights.stretch * fingering.stretch_mm + weights.strain * fingering.strain + weights.open_gap * gap


def _millionths(values: Sequence[float]) -> Costs:
    return np.rint(np.asarray(values, dtype=np.float64) * UNITS).astype(np.int64)


def movement_costs(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> Semitones:
    """``movement(b, a).cost`` for every pair of pitch sets (MIDI, low to high), rows ``before``, columns ``after``."""
    costs = np.zeros((len(before), len(after)), dtype=np.int16)
    for rows, some in _by_size(before):
        for columns, others in _by_size(after):
            costs[np.ix_(rows, columns)] = _paired(some, others)
    return costs


def _by_size(sets: Sequence[tuple[int, ...]]) -> list[tuple[NDArray[np.intp], Semitones]]:
    """The pitch sets of each size, as their indices and one array of shape (how many, size)."""
    sizes = np.array([len(pitches) for pitches in sets])
    found = []
    for size in np.unique(sizes):
        indices = np.flatnonzero(sizes == size)
        found.append((indices, np.array([sets[int(index)] for index in indices], dtype=np.int16)))
    return found


def _paired(before: Semitones, after: Semitones) -> Semitones:
    """Costs between two arrays of pitch sets, each of one size: by rank when the sizes agree, else aligned."""
    if before.shape[1] != after.shape[1]:
        return _aligned(before, after)
    total = np.zeros((len(before), len(after)), dtype=np.int16)
    for voice in range(before.shape[1]):
        total += np.abs(before[:, voice, None] - after[:, voice])
    return total


def _aligned(before: Semitones, after: Semitones) -> Semitones:
    """The alignment of :func:`listener.music.movement.movement` for all pairs at once; only its cost.

    ``linked[j]`` and ``loose[j]`` hold the cost of having accounted for the first i voices of one side and j of the
    other, with and without a link between the last two; voices split or merge only along such a link.
    """
    shape = (len(before), len(after))
    rows, columns = before.shape[1], after.shape[1]
    never = np.full(shape, _NEVER, dtype=np.int16)
    linked = [never] * (columns + 1)
    loose = [np.full(shape, ENTER_COST * j, dtype=np.int16) for j in range(columns + 1)]
    for i in range(rows):
        apart = [np.abs(before[:, i, None] - after[:, j]) for j in range(columns)]
        next_linked, next_loose = [never], [np.minimum(linked[0], loose[0]) + LEAVE_COST]
        for j in range(1, columns + 1):
            gap = apart[j - 1]
            either = np.minimum(linked[j - 1], loose[j - 1])
            link = np.minimum(either, linked[j] + MERGE_COST)
            next_linked.append(gap + np.minimum(link, next_linked[j - 1] + SPLIT_COST))
            leave = np.minimum(linked[j], loose[j]) + LEAVE_COST
            enter = np.minimum(next_linked[j - 1], next_loose[j - 1]) + ENTER_COST
            next_loose.append(np.minimum(leave, enter))
        linked, loose = next_linked, next_loose
    return np.minimum(linked[-1], loose[-1])


def least_movement(from_pitches: Sequence[int], options: Sequence[tuple[int, ...]]) -> int | None:
    """The least movement cost from what was played to any of the options; None when there is nothing on one side.

    For equal sizes that is the total in semitones; see :func:`listener.music.movement.movement` for the rest.
    Quick enough to be asked while somebody plays, above all when ``options`` is the same tuple each time.
    """
    if not from_pitches or not options:
        return None
    start = np.array([sorted(from_pitches)], dtype=np.int16)
    tables = _option_tables(tuple(options))
    same = tables.get(start.shape[1])
    least = [int(np.abs(same - start).sum(axis=1).min())] if same is not None else []
    others = [table for size, table in tables.items() if size != start.shape[1]]
    return min(least + [int(_aligned(start, table).min()) for table in others])


@lru_cache(maxsize=512)
def _option_tables(options: tuple[tuple[int, ...], ...]) -> dict[int, Semitones]:
    ordered = tuple(tuple(sorted(pitches)) for pitches in options if pitches)
    return {table.shape[1]: table for _, table in _by_size(ordered)}
