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

from listener.planning.routes.alignment import TABLES, PitchSets, movement_table
from listener.planning.routes.hands import add_hand_changes, add_looked_up
from listener.planning.routes.layers import NEVER, Chosen, Costs, Indices, Layer, Link, may_follow

#: Candidate pairs worked on at once: 8 MB of costs, whatever the size of the drill's wishes.
_CELLS_AT_ONCE: Final = 1_000_000
#: Candidate pairs whose costs are kept for the next time: 64 MB.
_CELLS_KEPT: Final = 8_000_000
#: Candidates of a layer that are not worth thinning out (measured; changes only the time).
_FEW: Final = 1_000
#: Semitones that all voices may go the same way before it is a leap: a fourth.
_NO_LEAP: Final = 5


class Layered(Protocol):
    """What can be searched."""

    def __len__(self) -> int:
        """How many layers there are."""

    def own(self, index: int) -> Costs:
        """What each candidate of a layer costs by itself."""

    def sounds(self, index: int) -> Indices:
        """Which pitch set each candidate of a layer sounds; equal numbers in one layer are equal sets."""

    def changes(self, index: int, rows: Chosen, columns: Chosen = slice(None)) -> Costs:
        """Coming from some candidates of the layer before to some of layer ``index``; NEVER where it is forbidden."""


class Network:
    """Layers and the links between them; ``links[i]`` ties layer i to the one before it."""

    def __init__(self, layers: Sequence[Layer], links: Sequence[Link]) -> None:
        self.layers = layers
        self.links = links
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

    def changes(self, index: int, rows: Chosen, columns: Chosen = slice(None)) -> Costs:
        """The cost of coming from some candidates of the layer before to some of layer ``index``."""
        before, after, link = self.layers[index - 1], self.layers[index], self.links[index]
        key = (id(before), id(after), link)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key][rows][:, columns]
        found = self._made(before, after, link, rows, columns)
        everything = isinstance(rows, slice) and isinstance(columns, slice) and rows == columns == slice(None)
        if everything and found.size <= _CELLS_AT_ONCE:
            self._kept[key] = found
            self._cells += found.size
        while self._cells > _CELLS_KEPT:
            self._cells -= self._kept.popitem(last=False)[1].size
        return found

    def _made(self, before: Layer, after: Layer, link: Link, rows: Chosen, columns: Chosen) -> Costs:
        """Movement, the leap of the outer voices, and what the hand pays; the arriving step says how much it minds."""
        prices = after.prices
        here, there = before.sound[rows], after.sound[columns]
        costs: Costs = np.zeros((len(here), len(there)), dtype=np.int64)
        add_looked_up(costs, here, there, lambda one, other: self._of_sounds(before, after, one, other))
        add_hand_changes(costs, before.hand, after.hand, prices, rows, columns)
        if link.among_changes:
            costs[~may_follow(before, after, link, rows, columns)] = NEVER
        return costs

    def _of_sounds(self, before: Layer, after: Layer, rows: Indices, columns: Indices) -> Costs:
        """What the ear pays between some pitch sets of two layers: semitones, and leaps of all voices."""
        table = TABLES.kept(before.sets, after.sets)
        if table is None and len(rows) == len(before.sets):
            table = TABLES.table(before.sets, after.sets)
        if table is None:
            moved = movement_table(before.sets.some(rows), after.sets)[:, columns]
        else:
            moved = table[rows[:, None], columns]
        costs: Costs = after.prices.of_movement(int(moved.max(initial=0)))[moved]
        leap = after.prices.of_one("leap")
        if leap:
            costs += leap * _leaps(before.sets.some(rows), after.sets.some(columns))
        return costs


def _leaps(before: PitchSets, after: PitchSets) -> Costs:
    """By how much more than a fourth bottom and top go the same way: then all voices leap."""
    tops = [sets.notes[np.arange(len(sets)), sets.sizes - 1].astype(np.int64) for sets in (before, after)]
    low = after.notes[:, 0].astype(np.int64) - before.notes[:, 0, None]
    high = tops[1] - tops[0][:, None]
    least = np.where((low > 0) == (high > 0), np.minimum(np.abs(low), np.abs(high)), 0)
    leaps: Costs = np.maximum(least - _NO_LEAP, 0)
    return leaps


class Narrowed:
    """A network with only some candidates of each layer, given by their indices in ascending order."""

    def __init__(self, whole: Layered, chosen: Sequence[Indices]) -> None:
        self._whole = whole
        self.chosen = chosen
        self._all = [len(some) == len(whole.own(index)) for index, some in enumerate(chosen)]

    def __len__(self) -> int:
        return len(self.chosen)

    def own(self, index: int) -> Costs:
        """What each candidate of a layer costs by itself."""
        return self._whole.own(index)[self.chosen[index]]

    def sounds(self, index: int) -> Indices:
        """Which pitch set each candidate of a layer sounds."""
        return self._whole.sounds(index)[self.chosen[index]]

    def changes(self, index: int, rows: Chosen, columns: Chosen = slice(None)) -> Costs:
        """The cost of coming from some candidates of the layer before to some of layer ``index``."""
        here = rows if self._all[index - 1] else self.chosen[index - 1][rows]
        there = columns if self._all[index] else self.chosen[index][columns]
        return self._whole.changes(index, here, there)

    def in_whole(self, choice: Sequence[int]) -> tuple[int, ...]:
        """A route's indices as those of the network that was narrowed."""
        return tuple(int(chosen[index]) for chosen, index in zip(self.chosen, choice, strict=True))


def without_hopeless(network: Layered) -> Narrowed:
    """The same network without candidates that no best route takes, for they cost too much by themselves.

    Any route may go over the candidate of a layer that costs least instead. If even the dearest ways to it and from it
    are made up for by that, a candidate is hopeless. That is never so where movement decides, but strummed shapes are
    mostly chosen for themselves. With fewer candidates the dearest ways get cheaper, so it is looked at twice. Where
    there are few candidates all of them are as quick.
    """
    chosen = [np.arange(len(network.own(index))) for index in range(len(network))]
    for _ in range(2):
        for index in range(len(network)):
            if len(chosen[index]) <= _FEW:
                continue
            own = network.own(index)[chosen[index]]
            best = chosen[index][int(own.argmin())]
            ways = int(own.min())
            if index:
                ways += int(network.changes(index, chosen[index - 1], np.array([best])).max())
            if index + 1 < len(network):
                ways += int(network.changes(index + 1, np.array([best]), chosen[index + 1]).max())
            chosen[index] = chosen[index][own <= ways]
        if not any(len(some) < len(network.own(index)) for index, some in enumerate(chosen)):
            break
    return Narrowed(network, chosen)


def costs_to_go(network: Layered, end: Costs | None = None) -> list[Costs]:
    """For every layer the least cost from each of its candidates to the end, its own included; NEVER: no way.

    ``end`` is charged for the candidate in the last layer.
    """
    last = network.own(len(network) - 1)
    to_go = [last if end is None else last + end]
    for index in range(len(network) - 1, 0, -1):
        to_go.append(np.minimum(network.own(index - 1) + onward(network, index, to_go[-1]), NEVER))
    return to_go[::-1]


def onward(network: Layered, index: int, to_go: Costs) -> Costs:
    """The least cost of going on from each candidate of the layer before to ``index``, where ``to_go`` is left; a block
    of rows at a time."""
    found = [least_of_rows(network.changes(index, block), to_go) for block in _blocks(network, index, to_go)]
    return found[0] if len(found) == 1 else np.concatenate(found)


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
        so_far.append(arrived(network, index, so_far[-1] + network.own(index - 1)))
    return so_far


def arrived(network: Layered, index: int, reached: Costs) -> Costs:
    """The least cost of coming to each candidate of layer ``index`` when the one before was ``reached`` so; a block of
    rows at a time."""
    best = np.full(len(network.own(index)), NEVER, dtype=np.int64)
    for block in _blocks(network, index, best):
        np.minimum(best, arrivals(network, index, block, reached[block]), out=best)
    return best


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
