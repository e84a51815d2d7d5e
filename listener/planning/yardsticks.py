"""What a route is measured against: the least movement there could be, everyday shapes, and greedy choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.drill.manners import EVERYDAY, manner
from listener.errors import PlanError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.chord import Chord
from listener.music.movement import movement
from listener.music.voicing import FULL
from listener.planning.planner import check_size, layers_of
from listener.planning.routes.facts import facts_of
from listener.planning.routes.layers import NEVER, Link
from listener.planning.routes.network import Network
from listener.planning.routes.route import least_cost, network
from listener.planning.shapes.candidates import candidates


def least_possible(drill: Drill, instrument: Instrument, hand: Hand) -> int | None:
    """The least movement of any route when the wishes for the top and bottom lines are let go.

    None when so many routes are then possible that it would take too long to find.

    Semitones, with the price of voices that enter, leave, split or merge. Everything else stays: kinds, inversions,
    strings, frets, held notes, a tune over a chord that stays. A melody note foreign to its chord stays too, for
    without it there are fewer voices.
    """
    steps = [
        step if step.under else replace(step, wish=_freed(step.wish), top_motion=None, bottom_motion=None)
        for step in drill.steps
    ]
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
        return replace(wish, bottom=NoteWish())
    return replace(wish, top=NoteWish(), bottom=NoteWish(), added_top=False)


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
    """The shape that everybody knows, open or barred: the cheapest by the everyday manner; None without any."""
    found = candidates(Wish(chord, (FULL,)), instrument, hand)
    if not found:
        return None
    return found[int(facts_of(found).own(manner(EVERYDAY)).argmin())].fingering


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
