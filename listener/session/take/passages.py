"""Where the passages of a drill begin and end."""

from __future__ import annotations

from collections.abc import Sequence

from listener.planning.plan import PlannedStep


def first_of_passage(steps: Sequence[PlannedStep], step: int) -> int:
    """Index of the first step of the passage that this one belongs to; after the end of the drill, of the last."""
    step = min(step, len(steps) - 1)
    while step > 0 and steps[step - 1].step.passage == steps[step].step.passage:
        step -= 1
    return step


def after_passage(steps: Sequence[PlannedStep], step: int) -> int:
    """Index of the first step after that passage."""
    step = min(step, len(steps) - 1)
    passage = steps[step].step.passage
    while step < len(steps) and steps[step].step.passage == passage:
        step += 1
    return step
