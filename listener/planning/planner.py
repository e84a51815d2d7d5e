"""From a drill to its plan: find every step's candidates, search the best route, and say how the voices move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from listener.drill.drill import Drill, Step, Wish
from listener.errors import PlanError, WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.music.movement import movement
from listener.planning.blame import place, why_no_route
from listener.planning.plan import Plan, PlannedStep
from listener.planning.routes.alternatives import best_sounding
from listener.planning.routes.facts import facts_of
from listener.planning.routes.layers import Link
from listener.planning.routes.network import Network
from listener.planning.routes.picking import Picking, picking
from listener.planning.routes.route import NoRoute, Route, least_cost, network
from listener.planning.shapes.candidates import Candidate, candidates, over, why_none
from listener.planning.wish_words import wish_words

Layers = Sequence[tuple[Candidate, ...]]

#: Pairs of candidates that are compared at most, over all different changes of a drill: some ten seconds' work. Six
#: strings need 30 million for 32 thirteenths, ten times as many where they may be strummed as well.
MOST_PAIRS: Final = 1_000_000_000


def plan_drill(drill: Drill, instrument: Instrument, hand: Hand) -> Plan:
    """The least-cost route through a drill on this instrument with this hand.

    Raises :class:`PlanError` for the first step whose wish cannot be met, with the step (counted from 1), its bar and
    beat, the wish and the reason; and for the first step that cannot be reached because of what ties it to the step
    before (lines that rise or fall, held notes), with what is to blame and the nearest thing that works.
    """
    search = search_of(drill, instrument, hand)
    try:
        route = least_cost(search.network, loop=drill.loop)
    except NoRoute:
        raise search.blame() from None
    return search.plan(route)


def plan_alternatives(drill: Drill, instrument: Instrument, hand: Hand, count: int) -> tuple[Plan, ...]:
    """Up to ``count`` plans, best first, no two with the same pitches in every step; the first is the plan itself.

    For each sound the best fingering is taken. Raises what :func:`plan_drill` raises.
    """
    if count < 1:
        raise PlanError(f"{drill.name}: there is no way to plan {count} routes; ask for at least one")
    search = search_of(drill, instrument, hand)
    try:
        routes = best_sounding(search.network, count, loop=drill.loop)
    except NoRoute:
        raise search.blame() from None
    return tuple(search.plan(route) for route in routes)


@dataclass(frozen=True)
class Search:
    """A drill with its candidates, ready to be searched."""

    drill: Drill
    instrument: Instrument
    hand: Hand
    layers: Layers
    network: Network

    def chosen(self, route: Route) -> list[Candidate]:
        """The candidates of a route."""
        return [layer[index] for layer, index in zip(self.layers, route.choice, strict=True)]

    def plan(self, route: Route) -> Plan:
        """A route with everything that is said about it."""
        steps = _planned(self.drill.steps, self.chosen(route))
        way_back = movement(steps[-1].voicing.midi, steps[0].voicing.midi) if self.drill.loop else None
        return Plan(
            drill=self.drill,
            steps=steps,
            tuning=self.instrument.tuning_names,
            string_count=self.instrument.string_count,
            capo=self.instrument.capo,
            hand=self.hand.name,
            cost=route.cost,
            options=_options(self.layers),
            way_back=way_back,
            instrument=self.instrument,
        )

    def blame(self) -> PlanError:
        """Why there is no route."""

        def retie(links: Sequence[Link]) -> Network:
            return network(self.layers, self.drill.weights, links=links)

        error = why_no_route(self.drill.steps, retie)
        return _or_else(error, self.drill, self.instrument, self.hand)


def search_of(drill: Drill, instrument: Instrument, hand: Hand) -> Search:
    """A drill's candidates and the graph they make; :class:`PlanError` when a step has none."""
    if not drill.steps:
        raise PlanError(f"{drill.name}: there is nothing to plan; the drill has no steps")
    try:
        layers = layers_of(drill.steps, instrument, hand)
    except PlanError as error:
        raise _or_else(error, drill, instrument, hand) from None
    return _joined(layers, drill, instrument, hand)


def _joined(layers: Layers, drill: Drill, instrument: Instrument, hand: Hand) -> Search:
    links = [Link.of(step) for step in drill.steps]
    graph = network(layers, drill.weights, links=links, least_movement=drill.least_movement)
    check_size(graph, drill)
    return Search(drill, instrument, hand, layers, graph)


def _or_else(error: PlanError, drill: Drill, instrument: Instrument, hand: Hand) -> PlanError:
    """The error, with what helps: a drill that asks less of the hand where this one names it, or the plain guitar."""
    advice = f"{drill.instead} is the drill to play instead" if drill.instead else ""
    bare = replace(instrument, capo=0)
    plainer = {bare: "without the capo"}
    plainer.setdefault(replace(bare, open_pitches=make_instrument().open_pitches), "in standard tuning")
    for plain, how in plainer.items():
        if plain != instrument and _playable(drill, plain, hand):
            advice = f"{how} the drill can be played as it stands"
            break
    return PlanError(f"{error}; {advice}" if advice else str(error), step=error.step)


def _playable(drill: Drill, instrument: Instrument, hand: Hand) -> bool:
    """Whether there is any route at all; nobody asks what else would help."""
    try:
        search = _joined(layers_of(drill.steps, instrument, hand), drill, instrument, hand)
        least_cost(search.network, loop=drill.loop)
    except (PlanError, NoRoute):
        return False
    return True


def check_size(graph: Network, drill: Drill) -> None:
    """:class:`PlanError` when there is more to compare than a player would wait for; names the largest step."""
    pairs = {(id(a), id(b)): len(a) * len(b) for a, b in pairwise(graph.layers)}
    if sum(pairs.values()) <= MOST_PAIRS:
        return
    sizes = [len(layer) for layer in graph.layers]
    step = drill.steps[sizes.index(max(sizes))]
    raise PlanError(
        f"{place(step)}: {wish_words(step.wish)} can be played in {max(sizes):,} different "
        f"ways, and with so many at every step the best route would take too long to find; narrow the drill: fewer "
        f"kinds, a size, fewer strings or frets, or a top note",
        step=step.index + 1,
    )


def layers_of(steps: Sequence[Step], instrument: Instrument, hand: Hand) -> list[tuple[Candidate, ...]]:
    """The candidates of every step; equal wishes share one tuple, where they are also played alike."""
    known: dict[tuple[Wish, str, Picking | None, int], tuple[Candidate, ...]] = {}
    found: list[tuple[Candidate, ...]] = []
    for step in steps:
        before = found[-1] if found and step.under else None
        key = (step.wish, step.wish.chord.written, picking(step), id(before) if before is not None else 0)
        if key not in known:
            known[key] = _layer(step, before, instrument, hand)
        found.append(known[key])
    return found


def _layer(
    step: Step, before: tuple[Candidate, ...] | None, instrument: Instrument, hand: Hand
) -> tuple[Candidate, ...]:
    """The candidates of a step; with those of the step ``before`` it where only its top note is new."""
    try:
        if before is not None:
            found: tuple[Candidate, ...] = over(before, step.wish, instrument, hand)
            reason = "" if found else "no hand reaches it on top while the notes under it stay"
        else:
            found = candidates(step.wish, instrument, hand)
            reason = "" if found else why_none(step.wish, instrument, hand)
    except WidehandError as error:
        found, reason = (), str(error)
    picked = picking(step)
    if found and picked is not None:
        found, reason = picked.among(found)
    if not found:
        text = f"{place(step)}: {wish_words(step.wish)} cannot be played: {reason}"
        raise PlanError(text, step=step.index + 1)
    return found


def _planned(steps: Sequence[Step], chosen: Sequence[Candidate]) -> tuple[PlannedStep, ...]:
    planned: list[PlannedStep] = []
    for step, candidate in zip(steps, chosen, strict=True):
        change = movement(planned[-1].voicing.midi, candidate.voicing.midi) if planned else None
        planned.append(PlannedStep(step, candidate.voicing, candidate.fingering, change))
    return tuple(planned)


def _options(layers: Layers) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """The distinct pitch sets of each layer; equal layers share one tuple, so that look-ups by it stay quick."""
    shared = {id(layer): layer for layer in layers}
    made = {key: facts_of(layer).pitch_sets() for key, layer in shared.items()}
    return tuple(made[id(layer)] for layer in layers)
