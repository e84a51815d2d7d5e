"""What a route is measured against: the least movement there could be, everyday shapes, and greedy choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from listener.errors import PlanError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.chord import Chord
from listener.music.movement import movement
from listener.music.voicing import FULL
from listener.planning.candidates import candidates
from listener.planning.drill import Drill, Line, Step, Weights, Wish
from listener.planning.facts import own_cost
from listener.planning.layers import NEVER, Link
from listener.planning.network import Network
from listener.planning.planner import check_size, layers_of
from listener.planning.route import least_cost, network

#: Frets of the first position (common practice): among shapes within it, none counts as lower on the neck.
_FIRST_POSITION: Final = 4


def least_possible(drill: Drill, instrument: Instrument, hand: Hand) -> int | None:
    """The least movement of any route when the wishes for the top and bottom lines are let go.

    None when so many routes are then possible that it would take too long to find.

    Semitones, with the price of voices that enter, leave, split or merge. Everything else stays: kinds, inversions,
    strings, frets, held notes. A melody note that is foreign to its chord stays too, for without it there are fewer
    voices.
    """
    steps = [replace(step, wish=_freed(step.wish), top_motion=None, bottom_motion=None) for step in drill.steps]
    layers = layers_of(steps, instrument, hand)
    graph = network(layers, drill.weights, links=[Link.of(step) for step in steps], least_movement=True)
    try:
        check_size(graph, replace(drill, steps=tuple(steps)))
    except PlanError:
        return None
    route = least_cost(graph, loop=drill.loop)
    taken = [layer[index].fingering for layer, index in zip(layers, route.choice, strict=True)]
    return sum(movement(a.pitches, b.pitches).cost for a, b in changes_of(taken, drill.loop))


def _freed(wish: Wish) -> Wish:
    foreign = wish.added_top and wish.top.pitch is not None and wish.top.pitch.midi % 12 not in wish.chord.pitch_classes
    if foreign or wish.exact is not None:
        return replace(wish, bottom=Line())
    return replace(wish, top=Line(), bottom=Line(), added_top=False)


def changes_of(route: Sequence[Fingering], loop: bool) -> list[tuple[Fingering, Fingering]]:
    """Neighbours of a route, the way back of a loop last."""
    around = [*route, route[0]] if loop else list(route)
    return list(pairwise(around))


def everyday_route(steps: Sequence[Step], instrument: Instrument, hand: Hand) -> list[Fingering | None]:
    """The strummed shape of each chord that a player without a plan would take; None where there is none."""
    known: dict[Chord, Fingering | None] = {}
    for step in steps:
        chord = step.wish.chord
        if chord not in known:
            known[chord] = everyday_shape(chord, instrument, hand)
    return [known[step.wish.chord] for step in steps]


def everyday_shape(chord: Chord, instrument: Instrument, hand: Hand) -> Fingering | None:
    """Of the full shapes with the root (or the slash bass) lowest the one that is taught first; None without any.

    Our rule, common practice put in an order: no muted string inside; in first position or else as low as can be; on as
    many strings as can be, and pressed as low; the hand not above open strings; the widest interval at the bottom (D.
    Huron, "Tone and Voice", Music Perception 19(1), 2001); the fewest fingers; then the least stretch and strain.
    """
    wish = Wish(chord, (FULL,), inversion=None if chord.bass is not None else 0)
    shapes = [candidate.fingering for candidate in candidates(wish, instrument, hand)]
    return min(shapes, key=_order_taught, default=None)


def _order_taught(shape: Fingering) -> tuple[float, ...]:
    muted_inside = max(shape.strings) - min(shape.strings) + 1 - len(shape.strings)
    position = max(shape.highest_fret, _FIRST_POSITION)
    gap = max(0, shape.lowest_fret - 1) if 0 in shape.frets else 0
    fingers = len(set(shape.fingers) - {0})
    own = own_cost(shape, Weights())
    low_interval = shape.pitches[1] - shape.pitches[0]
    return muted_inside, position, -len(shape.pitches), shape.highest_fret, gap, -low_interval, fingers, own


def greedy_route(graph: Network) -> list[int]:
    """From the easiest first chord always the next that costs least from here, as indices into the layers.

    Shorter than the drill where that leads to a step which cannot be left by any allowed change.
    """
    taken = [int(graph.own(0).argmin())]
    for index in range(1, len(graph)):
        costs = graph.changes(index, slice(taken[-1], taken[-1] + 1))[0] + graph.own(index)
        best = int(costs.argmin())
        if costs[best] >= NEVER:
            break
        taken.append(best)
    return taken
