"""The best way through a drill: one candidate for every step, at the least total cost. Exact, not a heuristic.

The steps are layers of a graph, and a route takes one candidate from each. Its cost is the sum of

- per change ``weights.movement`` · the movement cost between the two pitch sets (semitones, with the price of voices
  that enter, leave, split or merge: :mod:`listener.music.movement`), and ``weights.leap`` · the semitones by which
  bottom and top go the same way further than a fourth,
- per change what the hand pays: :mod:`listener.planning.routes.hands`,
- per step what the shape costs by itself: every trait (:mod:`listener.planning.routes.traits`) times its price.

The weights are those of the step that is arrived at. With ``least_movement`` routes are compared by their movement cost
first, and only those that move equally little by the rest. Links between the steps (lines that rise or fall, held
notes) forbid changes; they cost nothing. In a loop the change from the last step back to the first counts too, but what
the first step says about the step before it is not asked of that change: a rising line has to come down somewhere.

It is found by dynamic programming (:mod:`listener.planning.routes.network`, :mod:`listener.planning.routes.loops`).
Costs are whole numbers, so equal routes tie exactly on every machine; of equal routes the one that takes the earliest
candidates wins, first step first (in a loop the step with the fewest candidates first).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from listener.drill.manners import Weights
from listener.music.movement import movement
from listener.planning.routes.alignment import least_movement, movement_costs
from listener.planning.routes.facts import Searchable, facts_of
from listener.planning.routes.layers import FREE, NEVER, UNITS, Layer, Link, make_layer, prices_for
from listener.planning.routes.loops import best_loop
from listener.planning.routes.network import Network, costs_to_go, follow, without_hopeless

__all__ = [
    "UNITS",
    "Link",
    "NoRoute",
    "Route",
    "Searchable",
    "best_route",
    "least_movement",
    "movement_costs",
    "network",
]


class NoRoute(ValueError):
    """The links leave no way through."""


@dataclass(frozen=True, slots=True)
class Route:
    """``choice`` holds the index taken in each layer, ``cost`` the total in the weights' unit."""

    choice: tuple[int, ...]
    cost: float


def best_route(
    layers: Sequence[Sequence[Searchable]],
    weights: Weights | Sequence[Weights],
    *,
    links: Sequence[Link] | None = None,
    loop: bool = False,
    least_movement: bool = False,
) -> Route:
    """The least-cost route, one index per layer; a layer without candidates is a ValueError.

    ``weights`` are those of all steps, or of each. ``links[i]`` ties layer i to the one before it. :class:`NoRoute`
    when they exclude every route.
    """
    if not layers:
        return Route((), 0.0)
    whole = network(layers, weights, links=links, least_movement=least_movement)
    return least_cost(whole, loop=loop)


def least_cost(whole: Network, *, loop: bool = False) -> Route:
    """The least-cost route through a network that is there already."""
    if min(map(len, whole.layers)) == 0:
        raise NoRoute
    if loop:
        total, choice = best_loop(whole)
    else:
        hopeful = without_hopeless(whole)
        to_go = costs_to_go(hopeful)
        total = int(to_go[0].min())
        choice = hopeful.in_whole(follow(hopeful, to_go)) if total < NEVER else ()
    if total >= NEVER:
        raise NoRoute
    return told(whole, total, choice, loop=loop)


def told(whole: Network, total: int, choice: Sequence[int], *, loop: bool = False) -> Route:
    """A route through a network in the terms of the candidates it was made of, its cost in the weights' unit."""
    places = tuple(int(layer.place[index]) for layer, index in zip(whole.layers, choice, strict=True))
    first = whole.layers[0].prices
    if first.semitone is None:
        return Route(places, total / UNITS)
    # Movement came first: it is counted at its usual price again.
    sounds = [layer.candidates[place].fingering.pitches for layer, place in zip(whole.layers, places, strict=True)]
    around = [sounds[-1] if loop else sounds[0], *sounds]
    moved = [movement(before, after).cost for before, after in pairwise(around)]
    usual = sum(layer.prices.weights.movement * cost for layer, cost in zip(whole.layers, moved, strict=True))
    return Route(places, usual + total % first.semitone / first.units)


def network(
    layers: Sequence[Sequence[Searchable]],
    weights: Weights | Sequence[Weights],
    *,
    links: Sequence[Link] | None = None,
    least_movement: bool = False,
) -> Network:
    """The graph of these candidates; layers that are the same object, and mind the same, are made once."""
    for index, layer in enumerate(layers):
        if not layer:
            raise ValueError(f"layer {index} has no candidates")
    tied = [FREE] * len(layers) if links is None else list(links)
    minded = [weights] * len(layers) if isinstance(weights, Weights) else list(weights)
    prices = prices_for(layers, minded, least_movement)
    facts = {number: facts_of(layer) for number, layer in {id(layer): layer for layer in layers}.items()}
    made: dict[tuple[int, Weights, str | None, str | None], Layer] = {}
    tables = []
    for layer, one, link in zip(layers, minded, tied, strict=True):
        key = (id(layer), one, _extreme(link.top), _extreme(link.bottom))
        if key not in made:
            made[key] = make_layer(layer, facts[id(layer)], prices[one], link)
        tables.append(made[key])
    return Network(tables, tied)


def _extreme(motion: str | None) -> str | None:
    """The motions that rule out candidates whatever came before."""
    return motion if motion in ("highest", "lowest") else None
