"""A part of a plan, or the plan in other shapes, to be heard by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from listener.errors import PlanError, UsageError
from listener.guitar.hand import make_hand
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.planning.yardsticks import everyday_route
from listener.safe_text import echo


def passages_named(plan: Plan, wanted: str) -> Plan:
    """The passage of that name, upper and lower case alike, else all whose names contain it, one after the other.

    :class:`UsageError` with the names there are when there is none.
    """
    names = list(dict.fromkeys(planned.step.passage for planned in plan.steps))
    low = " ".join(wanted.lower().split())
    found = [name for name in names if name.lower() == low] or [name for name in names if low and low in name.lower()]
    if not found:
        listed = ", ".join(f"'{name}'" for name in names)
        raise UsageError(f"{plan.drill.name} has no passage {echo(wanted)!r}; it has {listed}")
    return _only(plan, [planned for planned in plan.steps if planned.step.passage in found])


def one_change(plan: Plan, number: int) -> Plan:
    """Chord ``number`` (from 1) and the one after it; after the last of a drill that loops comes the first.

    :class:`UsageError` when there is no such change.
    """
    count = len(plan.steps) if plan.drill.loop else len(plan.steps) - 1
    if not 1 <= number <= count:
        there_are = f"its changes are 1 to {count}" if count > 0 else "it has one chord and no change"
        raise UsageError(f"{plan.drill.name} has no change {number}; {there_are}")
    return _only(plan, [plan.steps[number - 1], plan.steps[number % len(plan.steps)]])


def in_everyday_shapes(plan: Plan) -> tuple[Plan, tuple[str, ...]]:
    """The same chords as they are strummed by whoever has no plan, and the chords that have no such shape here.

    Those keep the plan's own. Raises :class:`PlanError` when there are none, or more than can be looked at.
    """
    if plan.instrument is None:
        raise PlanError(f"{plan.drill.name}: nobody said on which guitar it is played")
    route = everyday_route([planned.step for planned in plan.steps], plan.instrument, make_hand(plan.hand))
    steps: list[PlannedStep] = []
    for planned, shape in zip(plan.steps, route, strict=True):
        step = replace(planned.step, hold=())
        fingering = shape if shape is not None else planned.fingering
        voicing = voicing_of(planned.voicing.chord, fingering.pitches) if shape is not None else planned.voicing
        change = movement(steps[-1].voicing.midi, voicing.midi) if steps else None
        steps.append(PlannedStep(step, voicing, fingering, change))
    missing = dict.fromkeys(str(one.voicing.chord) for one, shape in zip(steps, route, strict=True) if shape is None)
    if missing and all(shape is None for shape in route):
        raise PlanError(f"there is no everyday shape of {', '.join(missing)} for this neck and hand")
    return replace(plan, steps=tuple(steps), way_back=None), tuple(missing)


def _only(plan: Plan, chosen: Sequence[PlannedStep]) -> Plan:
    """These steps without what lay between them: what comes next begins where the one before ends."""
    laid: list[PlannedStep] = []
    for before, planned in zip([None, *chosen], chosen, strict=False):
        start = planned.step.start_beats
        if before is not None:
            start += laid[-1].step.start_beats - before.step.start_beats
            if planned.step.index != before.step.index + 1:
                start = laid[-1].step.start_beats + laid[-1].step.length_beats
        laid.append(replace(planned, step=replace(planned.step, start_beats=start)))
    return replace(plan, steps=tuple(laid), options=(), way_back=None)
