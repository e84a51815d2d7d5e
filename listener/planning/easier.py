"""Easier on the hand: shapes near its limit with something easier beside them, and a plan that keeps away from it.

Strain (0 to 1) is the share of the hand's reach that a shape needs. Both limits here are our own choice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from listener.errors import WidehandError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument
from listener.planning.candidates import Candidate, candidates
from listener.planning.drill import Drill, Step
from listener.planning.picking import picking
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill

#: From here on a shape is near the limit of the hand.
NEAR_LIMIT: Final = 0.8
#: What an easier plan keeps every shape under, where the wishes allow it.
EASY: Final = 0.5
#: Less difference than this is no relief.
_RELIEF: Final = 0.05
_FIRST_WEIGHT: Final = 4.0
_MOST_WEIGHT: Final = 1000.0


def near_limit(planned: PlannedStep) -> bool:
    """Whether the shape is near the limit of the hand."""
    return planned.fingering.strain >= NEAR_LIMIT


def easier_shape(planned: PlannedStep, plan: Plan) -> Candidate | None:
    """The shape of the same wish that asks least of the hand; None when the planned one is near enough to it."""
    if plan.instrument is None:
        return None
    found = _easiest(planned.step, plan.instrument, make_hand(plan.hand))
    if found is None or found.fingering.strain > planned.fingering.strain - _RELIEF:
        return None
    return found


def _easiest(step: Step, instrument: Instrument, hand: Hand) -> Candidate | None:
    try:
        found: tuple[Candidate, ...] = candidates(step.wish, instrument, hand)
    except WidehandError:
        return None
    picked = picking(step)
    if found and picked is not None:
        found, _ = picked.among(found)
    return min(found, key=lambda candidate: candidate.fingering.strain, default=None)


def worst_strain(plan: Plan) -> float:
    """That of the shape that asks most of the hand."""
    return max((planned.fingering.strain for planned in plan.steps), default=0.0)


def beyond_ease(plan: Plan) -> float:
    """How far all shapes together go beyond :data:`EASY`; 0 when none does."""
    return sum(max(0.0, planned.fingering.strain - EASY) for planned in plan.steps)


def plan_easier(drill: Drill, instrument: Instrument, hand: Hand) -> Plan:
    """The plan with strain weighed more and more, until no shape needs more than :data:`EASY` of the hand's reach.

    Where the wishes do not allow that, or only with strings crossed, the plan that goes beyond it least. Its drill
    carries the prices that were used, and a note that says what changed. Raises what :func:`plan_drill` raises.
    """
    usual = best = plan_drill(drill, instrument, hand)
    weight = max([_FIRST_WEIGHT, *(2 * weights.strain for weights in drill.weights)])
    while beyond_ease(best) and weight <= _MOST_WEIGHT:
        # Least movement above all would leave the hand no say.
        steps = tuple(replace(step, weights=replace(step.weights, strain=weight)) for step in drill.steps)
        plan = plan_drill(replace(drill, steps=steps, least_movement=False), instrument, hand)
        best = min(best, plan, key=beyond_ease)
        weight *= 2
    return replace(best, drill=replace(best.drill, notes=(*drill.notes, easier_words(usual, best))))


def easier_words(usual: Plan, easier: Plan) -> str:
    """What an easier plan changes, for players."""
    if not beyond_ease(usual):
        return f"Easier: no shape here needs more than {EASY:.0%} of the hand's reach, so the plan stays as it is."
    before, after = worst_strain(usual), worst_strain(easier)
    if beyond_ease(easier) >= beyond_ease(usual):
        return f"Easier: these wishes leave no easier way; the hardest shape needs {before:.0%} of the hand's reach."
    changed = sum(one.fingering != other.fingering for one, other in zip(usual.steps, easier.steps, strict=True))
    shapes = "1 shape" if changed == 1 else f"{changed} shapes"
    hand = f"the hardest needs {after:.0%} of the hand's reach instead of {before:.0%}"
    if round(100 * after) >= round(100 * before):
        hand = f"the hardest still needs {after:.0%} of the hand's reach, the others less"
    return (
        f"Easier: {shapes} changed; {hand}. The voices move {easier.total_movement} semitones "
        f"instead of {usual.total_movement}."
    )
