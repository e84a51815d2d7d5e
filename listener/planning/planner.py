"""From a drill to its plan: find every step's candidates, search the best route, and say how the voices move."""

from __future__ import annotations

from collections.abc import Sequence

from listener.errors import PlanError, WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.movement import movement
from listener.planning.candidates import Candidate, candidates, why_none
from listener.planning.drill import Drill, Step
from listener.planning.plan import Plan, PlannedStep
from listener.planning.reasons import wish_words
from listener.planning.route import best_route


def plan_drill(drill: Drill, instrument: Instrument, hand: Hand) -> Plan:
    """The least-cost route through a drill on this instrument with this hand.

    Raises :class:`PlanError` for the first step whose wish cannot be met, with the step (counted from 1), its bar and
    beat, the wish and the reason.
    """
    if not drill.steps:
        raise PlanError(f"{drill.name}: there is nothing to plan; the drill has no steps")
    layers = [_layer(step, instrument, hand) for step in drill.steps]
    route = best_route(layers, drill.weights)
    chosen = [layer[index] for layer, index in zip(layers, route.choice, strict=True)]
    return Plan(
        drill=drill,
        steps=_planned(drill.steps, chosen),
        tuning=instrument.tuning_names,
        string_count=instrument.string_count,
        capo=instrument.capo,
        hand=hand.name,
        cost=route.cost,
        options=_options(layers),
    )


def _layer(step: Step, instrument: Instrument, hand: Hand) -> tuple[Candidate, ...]:
    try:
        found = candidates(step.wish, instrument, hand)
        reason = "" if found else why_none(step.wish, instrument, hand)
    except WidehandError as error:
        found, reason = (), str(error)
    if not found:
        number = step.index + 1
        raise PlanError(
            f"step {number} (bar {step.bar}, beat {step.beat:g}): {wish_words(step.wish)} cannot be played: {reason}",
            step=number,
        )
    return found


def _planned(steps: Sequence[Step], chosen: Sequence[Candidate]) -> tuple[PlannedStep, ...]:
    planned: list[PlannedStep] = []
    for step, candidate in zip(steps, chosen, strict=True):
        change = movement(planned[-1].voicing.midi, candidate.voicing.midi) if planned else None
        planned.append(PlannedStep(step, candidate.voicing, candidate.fingering, change))
    return tuple(planned)


def _options(layers: Sequence[Sequence[Candidate]]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """The distinct pitch sets of each layer; equal layers share one tuple, so that look-ups by it stay quick."""
    made = {id(layer): tuple(sorted({c.fingering.pitches for c in layer})) for layer in layers}
    return tuple(made[id(layer)] for layer in layers)
