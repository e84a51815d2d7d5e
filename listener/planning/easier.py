"""Easier on the hand: shapes near its limit with something easier beside them, and a plan that keeps away from it.

Strain (0 to 1) is the share of the hand's reach that a shape needs. Both limits here are our own choice.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np

from listener.drill.drill import Drill, Step
from listener.drill.manners import Weights
from listener.errors import WidehandError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument
from listener.plain_words import counted
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill
from listener.planning.routes.facts import facts_of
from listener.planning.routes.hands import positions
from listener.planning.routes.picking import picking
from listener.planning.shapes.candidates import Candidate, candidates

#: From here on a shape is near the limit of the hand.
NEAR_LIMIT: Final = 0.8
#: What an easier plan keeps every shape under, where the wishes allow it.
EASY: Final = 0.5
#: Less difference than this is no relief.
_RELIEF: Final = 0.05
#: How many times strain is weighed, and the way of hand and voices beside it, to look for an easier plan.
_STRAIN: Final = (2.0, 4.0, 8.0, 16.0)
_WAY: Final = (1.0, 2.0, 4.0)
#: A hand covers four frets; where its first finger goes further than this, none of them is under it any more.
_HAND_FRETS: Final = 3


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


def jumps(plan: Plan) -> int:
    """How often the hand jumps: its position, the fret of the first finger, moves further than the hand is wide."""
    facts = facts_of(plan.steps)
    found = positions(facts.frets, facts.fingers)
    return int((np.abs(np.diff(found[~np.isnan(found)])) > _HAND_FRETS).sum())


def plan_easier(drill: Drill, instrument: Instrument, hand: Hand) -> Plan:
    """The plan whose shapes go beyond :data:`EASY` least, of those that ask no more in any other way: the voices move
    no further and the hand jumps no more often than usual.

    Strain is weighed more and more for it, and the hand's way with it. Where nothing is easier so, it is the usual
    plan. Its drill carries the prices that were used, and a note that says what changed. Raises what
    :func:`plan_drill` raises.
    """
    usual = best = plan_drill(drill, instrument, hand)
    most = jumps(usual)
    for strain, way in product(_STRAIN, _WAY):
        if not beyond_ease(best):
            break
        steps = tuple(replace(step, weights=_eased(step.weights, strain, way)) for step in drill.steps)
        # Least movement above all would leave the hand no say.
        plan = plan_drill(replace(drill, steps=steps, least_movement=False), instrument, hand)
        if plan.total_movement <= usual.total_movement and jumps(plan) <= most:
            best = min(best, plan, key=beyond_ease)
    return replace(best, drill=replace(best.drill, notes=(*drill.notes, easier_words(usual, best))))


def _eased(weights: Weights, strain: float, way: float) -> Weights:
    """The prices with strain and the hand's way weighed so many times."""
    return replace(
        weights,
        strain=max(weights.strain, 1.0) * strain,
        movement=weights.movement * way,
        travel=weights.travel * way,
        shift=weights.shift * 2 * way,
    )


def easier_words(usual: Plan, easier: Plan) -> str:
    """What an easier plan changes, for players."""
    if not beyond_ease(usual):
        return (
            f"Easier: no shape here needs more than {100 * EASY:.0f} % of the hand's reach, so the plan stays as it is."
        )
    before, after = worst_strain(usual), worst_strain(easier)
    if beyond_ease(easier) >= beyond_ease(usual):
        return (
            "Easier: every easier way would make the hand jump or the voices move more; the hardest shape needs "
            f"{100 * before:.0f} % of the hand's reach."
        )
    changed = sum(one.fingering != other.fingering for one, other in zip(usual.steps, easier.steps, strict=True))
    hand = f"the hardest needs {100 * after:.0f} % of the hand's reach instead of {100 * before:.0f} %"
    if round(100 * after) >= round(100 * before):
        hand = f"the hardest still needs {100 * after:.0f} % of the hand's reach, the others less"
    return (
        f"Easier: {counted(changed, 'shape')} changed; {hand}. The voices move {easier.total_movement} semitones "
        f"instead of {usual.total_movement}."
    )
