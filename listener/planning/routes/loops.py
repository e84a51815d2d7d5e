"""The best way round: routes whose last step leads back to their first. Exact.

The ring is cut at the step with the fewest candidates, and that step stands at both ends. A loop is then a route from a
candidate to the same candidate. Leaving that demand aside gives, by one search in each direction, a bound for every
candidate of every step: no loop through it can cost less. The bounds are sharpened by a *height* for each candidate of
the cut step, which is charged at the end and given back at the start: it changes the cost of no loop, but a route that
gains by ending somewhere else loses by it. Good heights are what a route still costs after going round a few times.

A few promising starts give a loop that is good already; candidates whose bound lies above it can be in no better loop
and are struck out; what is left is searched from all remaining starts at once. At worst nothing is struck out, and the
work is that of one search for each candidate of the smallest step.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from listener.planning.routes.layers import FREE, NEVER, Costs, Indices
from listener.planning.routes.network import Layered, Narrowed, Network, costs_so_far, costs_to_go, follow

#: Starts that are tried before candidates are struck out (our choice; it changes the time, not the answer).
_TRIED: Final = 8
#: Times round for the heights (our choice, likewise).
_TURNS: Final = 3
#: Numbers worked on at once: 16 MB.
_CELLS_AT_ONCE: Final = 2_000_000


class CutLoop:
    """A network cut open: ``line`` has the cut step at both ends; ``bounds``: what loops through a start must cost."""

    def __init__(self, whole: Network) -> None:
        sizes = [len(layer) for layer in whole.layers]
        self.cut = sizes.index(min(sizes))
        turned = [*whole.layers[self.cut :], *whole.layers[: self.cut]]
        links = [*whole.links[self.cut :], *whole.links[: self.cut]]
        # The step that is first in the drill says nothing about the way back.
        links[-self.cut % len(links)] = FREE
        end = replace(turned[0], own=np.zeros_like(turned[0].own))
        self.line = Network([*turned, end], [*links, links[0]])
        height = np.zeros_like(end.own)
        for _ in range(_TURNS):
            height = _levelled(costs_to_go(self.line, end=height)[0])
        self._top = int(height.max())
        self.to_go = costs_to_go(self.line, end=height)
        self.so_far = costs_so_far(self.line, start=self._top - height)
        ahead, behind = self.to_go[0], self.so_far[-1]
        nowhere = (ahead >= NEVER) | (behind >= NEVER)
        self.bounds: Costs = np.where(nowhere, NEVER, np.maximum(ahead - height, behind + height - self._top))

    def narrowed(self, most: int) -> Narrowed:
        """Only candidates through which a loop of this cost can be; indices stay in order."""
        chosen = [
            np.flatnonzero((ahead + behind - self._top <= most) & (ahead < NEVER) & (behind < NEVER))
            for ahead, behind in zip(self.to_go, self.so_far, strict=True)
        ]
        ends = np.flatnonzero((self.bounds <= most) & (self.bounds < NEVER))
        return Narrowed(self.line, [ends, *chosen[1:-1], ends])

    def turned_back(self, choice: list[int]) -> tuple[int, ...]:
        """A route along the line, as indices of the steps in the order of the drill."""
        steps = choice[:-1]
        return tuple(steps[len(steps) - self.cut :] + steps[: len(steps) - self.cut])


def _levelled(height: Costs) -> Costs:
    """Heights from 0 up; a candidate that leads nowhere stands as high as the highest that leads on."""
    leads_on = height[height < NEVER]
    if not len(leads_on):
        return np.zeros_like(height)
    levelled: Costs = np.minimum(height, leads_on.max()) - leads_on.min()
    return levelled


def best_loop(whole: Network) -> tuple[int, tuple[int, ...]]:
    """Cost and choice of the best loop; the cost is NEVER when there is none."""
    ring = CutLoop(whole)
    promising = np.sort(np.argsort(ring.bounds, kind="stable")[:_TRIED])
    most = int(ways_round(ring.line, promising).min())
    few = ring.narrowed(most)
    if most >= NEVER:
        few = ring.narrowed(NEVER - 1)
    if not len(few.chosen[0]):
        return NEVER, ()
    round_trips = ways_round(few, np.arange(len(few.chosen[0])))
    best = int(round_trips.argmin())
    if round_trips[best] >= NEVER:
        return NEVER, ()
    return int(round_trips[best]), ring.turned_back(from_to(few, best))


def from_to(line: Narrowed, start: int) -> list[int]:
    """The best way along a line from a candidate to the same candidate, as indices of the whole."""
    only = between(line, start)
    return list(line.in_whole(only.in_whole(follow(only, costs_to_go(only)))))


def between(line: Layered, start: int) -> Narrowed:
    """A line with one candidate at both ends."""
    ends = np.array([start])
    inside = [np.arange(len(line.own(index))) for index in range(1, len(line) - 1)]
    return Narrowed(line, [ends, *inside, ends])


def ways_round(line: Layered, starts: Indices) -> Costs:
    """The least cost from each start to itself at the other end, many starts at once."""
    found = []
    widest = max(len(line.own(i - 1)) * len(line.own(i)) for i in range(1, len(line)))
    size = max(1, _CELLS_AT_ONCE // max(1, widest))
    for block in (starts[at : at + size] for at in range(0, len(starts), size)):
        reached = line.changes(1, block) + line.own(0)[block][:, None]
        for index in range(2, len(line)):
            reached = _product(np.minimum(reached + line.own(index - 1), NEVER), line.changes(index, slice(None)))
        found.append(np.minimum(reached[np.arange(len(block)), block], NEVER))
    return np.concatenate(found)


def _product(reached: Costs, changes: Costs) -> Costs:
    """From each start the least cost to each candidate of the next layer: a matrix product of minimum and plus."""
    least: Costs = (reached[:, :, None] + changes).min(axis=1, initial=NEVER)
    return least
