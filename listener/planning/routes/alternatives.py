"""The best few routes that sound different: other pitches in at least one step, each in its best fingering. Exact.

Several fingerings sound the same, so the second-best route is most often the best one with a finger moved. What is
counted here are rows of pitch sets; a row costs what its cheapest fingering costs. They come best first by E. L.
Lawler's partition ("A procedure for computing the k best solutions to discrete optimization problems", Management
Science 18(7), 1972; for paths J. Y. Yen, Management Science 17(11), 1971), made on pitch sets instead of single
fingerings: once the best row is known, every other row leaves it at some step for the first time. So the rows fall
into one family for each step: the same sounds up to there, another sound at it, anything after. The best of each
family follows from the costs to go, which one backward search gives for all of them; the best family is taken, and
divided in the same way.

In a loop each start has its own rows. They are merged, best first; a start is opened only when its bound says that it
could be next, and a row that was met before, through another fingering of the start, is passed over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush, nsmallest
from itertools import count, islice

import numpy as np

from listener.planning.routes.layers import NEVER, Costs, Indices
from listener.planning.routes.loops import CutLoop, between
from listener.planning.routes.network import Layered, Narrowed, Network, arrivals, costs_to_go, follow
from listener.planning.routes.route import NoRoute, Route, told

Sounds = tuple[int, ...]


def best_sounding(whole: Network, wanted: int, *, loop: bool = False) -> tuple[Route, ...]:
    """Up to ``wanted`` routes, the best first, no two with the same pitches in every step.

    The first is the one that :func:`listener.planning.routes.route.least_cost` finds. Fewer when there are no more;
    :class:`NoRoute` when there is none.
    """
    if min(map(len, whole.layers)) == 0:
        raise NoRoute
    rows = _loops(whole, wanted) if loop else ((row.cost, row.choice) for row in _rows(whole, wanted))
    routes = tuple(told(whole, cost, choice, loop=loop) for cost, choice in islice(rows, wanted))
    if not routes:
        raise NoRoute
    return routes


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of pitch sets with its least cost and the fingerings that have it."""

    cost: int
    sounds: Sounds
    choice: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Family:
    """Rows that sound like ``parent`` before layer ``depth`` and have none of the ``banned`` sounds there.

    ``rows`` and ``reached`` are the candidates of the layer before that sound like the parent, and the least cost of
    being there; ``first`` is the candidate of the layer through which the best row goes.
    """

    parent: Sounds
    depth: int
    banned: frozenset[int]
    rows: Indices
    reached: Costs
    first: int


_NOWHERE = np.empty(0, dtype=np.intp)


def _rows(network: Layered, wanted: int) -> Iterator[_Row]:
    """The best rows of an open route, at most ``wanted``, best first."""
    to_go = costs_to_go(network)
    sounds = [network.sounds(index) for index in range(len(network))]
    number = count()
    first = int(to_go[0].argmin())
    start = _Family((), 0, frozenset(), _NOWHERE, np.empty(0, dtype=np.int64), first)
    heap = [(int(to_go[0][first]), next(number), start)]
    left = wanted
    while heap and left:
        cost, _, family = heappop(heap)
        if cost >= NEVER:
            return
        way_on = follow(network, to_go, family.first, family.depth)
        heard = family.parent[: family.depth] + tuple(
            int(sounds[family.depth + index][choice]) for index, choice in enumerate(way_on)
        )
        yield _Row(cost, heard, _fingered(network, sounds, heard))
        left -= 1
        for found, divided in _divide(network, to_go, sounds, family, heard):
            heappush(heap, (found, next(number), divided))
        if len(heap) > 4 * left + 100:
            heap = nsmallest(left, heap, key=lambda entry: entry[:2])
            heapify(heap)


def _divide(
    network: Layered, to_go: Sequence[Costs], sounds: Sequence[Indices], family: _Family, heard: Sounds
) -> Iterator[tuple[int, _Family]]:
    """The families into which a family falls when its best row is taken out, each with the cost of its best."""
    rows, reached, banned = family.rows, family.reached, family.banned
    for depth in range(family.depth, len(network)):
        here = arrivals(network, depth, rows, reached) if depth else np.zeros(len(to_go[0]), dtype=np.int64)
        banned = banned | {heard[depth]}
        through = here + to_go[depth]
        for sound in banned:
            through[sounds[depth] == sound] = NEVER
        best = int(through.argmin())
        if through[best] < NEVER:
            yield int(through[best]), _Family(heard, depth, banned, rows, reached, best)
        rows = np.flatnonzero(sounds[depth] == heard[depth])
        reached = np.minimum(here + network.own(depth), NEVER)[rows]
        banned = frozenset()


def _fingered(network: Layered, sounds: Sequence[Indices], heard: Sounds) -> tuple[int, ...]:
    """The best fingerings for a row of pitch sets."""
    alike = Narrowed(network, [np.flatnonzero(row == sound) for row, sound in zip(sounds, heard, strict=True)])
    return alike.in_whole(follow(alike, costs_to_go(alike)))


def _loops(whole: Network, wanted: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """The best rows of a loop, best first."""
    ring = CutLoop(whole)
    if ring.bounds.min() >= NEVER:
        return
    few = ring.narrowed(_enough(ring, wanted))
    bounds = ring.bounds[few.chosen[0]]
    # Entries order by cost, then by start; a start that is not open yet comes before rows of the same cost.
    heap: list[tuple[int, int, int, _Row | None]] = [(int(bound), 0, at, None) for at, bound in enumerate(bounds)]
    heapify(heap)
    streams: dict[int, Iterator[_Row]] = {}
    met: set[Sounds] = set()
    while heap:
        cost, _, at, row = heappop(heap)
        if row is None:
            streams[at] = _round(few, at, wanted)
        elif row.sounds not in met:
            met.add(row.sounds)
            yield cost, ring.turned_back(list(few.in_whole(row.choice)))
        following = next(streams[at], None)
        if following is not None:
            heappush(heap, (following.cost, 1, at, following))


def _enough(ring: CutLoop, wanted: int) -> int:
    """A cost that the wanted number of loops does not exceed: those of the most promising start."""
    all_of_it = ring.narrowed(NEVER - 1)
    if not len(all_of_it.chosen[0]):
        return NEVER - 1
    start = int(ring.bounds[all_of_it.chosen[0]].argmin())
    costs = [row.cost for row in _round(all_of_it, start, wanted)]
    return costs[-1] if len(costs) == wanted else NEVER - 1


def _round(line: Narrowed, start: int, wanted: int) -> Iterator[_Row]:
    """The best rows from a start to itself, as indices of the line."""
    only = between(line, start)
    for row in _rows(only, wanted):
        yield _Row(row.cost, row.sounds, only.in_whole(row.choice))
