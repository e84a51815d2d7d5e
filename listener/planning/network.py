"""The graph that a route goes through: one layer for each step, and the cost of every change between neighbours.

A :class:`Network` makes the costs of a change when they are asked for and keeps the latest, for drills repeat
themselves; a :class:`Narrowed` one is the same with some candidates of each layer only. Both are searched by dynamic
programming (R. Bellman, "Dynamic Programming", 1957; for guitar fingering S. Sayegh, Computer Music Journal 13(3),
1989), and time and memory grow with the number of steps, not with the number of routes.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np

from listener.planning.changes import movement_costs
from listener.planning.layers import NEVER, Costs, Indices, Layer, Link, Prices, may_follow

#: Candidate pairs worked on at once: 8 MB of costs, whatever the size of the drill's wishes.
_CELLS_AT_ONCE: Final = 1_000_000
#: Candidate pairs whose costs are kept for the next time: 64 MB.
_CELLS_KEPT: Final = 8_000_000


class Layered(Protocol):
    """What can be searched."""

    def __len__(self) -> int:
        """How many layers there are."""

    def own(self, index: int) -> Costs:
        """What each candidate of a layer costs by itself."""

    def sounds(self, index: int) -> Indices:
        """Which pitch set each candidate of a layer sounds; equal numbers in one layer are equal sets."""

    def changes(self, index: int, rows: slice | Indices) -> Costs:
        """Coming from some candidates of the layer before to each of layer ``index``; NEVER where it is forbidden."""


class Network:
    """Layers and the links between them; ``links[i]`` ties layer i to the one before it."""

    def __init__(self, layers: Sequence[Layer], links: Sequence[Link], prices: Prices) -> None:
        self.layers = layers
        self.links = links
        self.prices = prices
        self._kept: OrderedDict[tuple[int, int, Link], Costs] = OrderedDict()
        self._cells = 0

    def __len__(self) -> int:
        return len(self.layers)

    def own(self, index: int) -> Costs:
        """What each candidate of a layer costs by itself."""
        return self.layers[index].own

    def sounds(self, index: int) -> Indices:
        """Which pitch set each candidate of a layer sounds."""
        return self.layers[index].sound

    def changes(self, index: int, rows: slice | Indices) -> Costs:
        """The cost of coming from some candidates of the layer before to each of layer ``index``."""
        before, after, link = self.layers[index - 1], self.layers[index], self.links[index]
        cells = len(before) * len(after)
        key = (id(before), id(after), link)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key][rows]
        if cells > _CELLS_AT_ONCE:
            if isinstance(rows, slice):
                return self._made(before, after, link, rows)
            parts = [self._made(before, after, link, slice(row, row + 1)) for row in rows.tolist()]
            return np.concatenate(parts) if parts else np.empty((0, len(after)), dtype=np.int64)
        self._kept[key] = made = self._made(before, after, link, slice(None))
        self._cells += cells
        while self._cells > _CELLS_KEPT:
            self._cells -= self._kept.popitem(last=False)[1].size
        return made[rows]

    def _made(self, before: Layer, after: Layer, link: Link, rows: slice) -> Costs:
        sounded, which = np.unique(before.sound[rows], return_inverse=True)
        moved = movement_costs([before.sets[int(index)] for index in sounded], after.sets)
        prices = self.prices.of_movement(int(moved.max(initial=0)))
        costs: Costs = prices[moved].take(after.sound, axis=1).take(which, axis=0)
        travel = np.abs(before.centre[rows, None] - after.centre)
        if not (before.pressed.all() and after.pressed.all()):
            travel *= before.pressed[rows, None] & after.pressed
        costs += travel
        if link.among_changes:
            costs[~may_follow(before, after, link, rows)] = NEVER
        return costs


class Narrowed:
    """A network with only some candidates of each layer, given by their indices in ascending order."""

    def __init__(self, whole: Layered, chosen: Sequence[Indices]) -> None:
        self._whole = whole
        self.chosen = chosen

    def __len__(self) -> int:
        return len(self.chosen)

    def own(self, index: int) -> Costs:
        """What each candidate of a layer costs by itself."""
        return self._whole.own(index)[self.chosen[index]]

    def sounds(self, index: int) -> Indices:
        """Which pitch set each candidate of a layer sounds."""
        return self._whole.sounds(index)[self.chosen[index]]

    def changes(self, index: int, rows: slice | Indices) -> Costs:
        """The cost of coming from some candidates of the layer before to each of layer ``index``."""
        return self._whole.changes(index, self.chosen[index - 1][rows]).take(self.chosen[index], axis=1)

    def in_whole(self, choice: Sequence[int]) -> tuple[int, ...]:
        """A route's indices as those of the network that was narrowed."""
        return tuple(int(chosen[index]) for chosen, index in zip(self.chosen, choice, strict=True))


def costs_to_go(network: Layered, end: Costs | None = None) -> list[Costs]:
    """For every layer the least cost from each of its candidates to the end, its own included; NEVER: no way.

    ``end`` is charged for the candidate in the last layer.
    """
    last = network.own(len(network) - 1)
    to_go = [last if end is None else last + end]
    for index in range(len(network) - 1, 0, -1):
        onward = [
            least_of_rows(network.changes(index, block), to_go[-1]) for block in _blocks(network, index, to_go[-1])
        ]
        cheapest = onward[0] if len(onward) == 1 else np.concatenate(onward)
        to_go.append(np.minimum(network.own(index - 1) + cheapest, NEVER))
    return to_go[::-1]


def least_of_rows(changes: Costs, to_go: Costs) -> Costs:
    """The inner step of the search: for each row the least of change plus what is to go."""
    least: Costs = (changes + to_go).min(axis=1, initial=NEVER)
    return least


def costs_so_far(network: Layered, start: Costs | None = None) -> list[Costs]:
    """For every layer the least cost from the start to each of its candidates, its own not included.

    ``start`` is charged for the candidate in the first layer.
    """
    so_far = [np.zeros(len(network.own(0)), dtype=np.int64) if start is None else start]
    for index in range(1, len(network)):
        reached = so_far[-1] + network.own(index - 1)
        best = np.full(len(network.own(index)), NEVER, dtype=np.int64)
        for block in _blocks(network, index, best):
            np.minimum(best, arrivals(network, index, block, reached[block]), out=best)
        so_far.append(best)
    return so_far


def arrivals(network: Layered, index: int, rows: slice | Indices, reached: Costs) -> Costs:
    """The least cost of coming to each candidate of a layer from some of the layer before; its own not included."""
    least: Costs = (network.changes(index, rows) + reached[:, None]).min(axis=0, initial=NEVER)
    return least


def _blocks(network: Layered, index: int, after: Costs) -> list[slice]:
    rows = len(network.own(index - 1))
    if rows * len(after) <= _CELLS_AT_ONCE:
        return [slice(None)]
    size = max(1, _CELLS_AT_ONCE // len(after))
    return [slice(start, start + size) for start in range(0, rows, size)]


def follow(network: Layered, to_go: Sequence[Costs], start: int | None = None, first: int = 0) -> list[int]:
    """Walk along the least cost to go from layer ``first`` on; of equal ways the one with the earliest candidates."""
    choice = [int(to_go[first].argmin()) if start is None else start]
    for index in range(first + 1, len(network)):
        row = network.changes(index, slice(choice[-1], choice[-1] + 1))
        choice.append(int((row[0] + to_go[index]).argmin()))
    return choice
