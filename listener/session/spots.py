"""Hard spots: the few chords of a take that went wrong, with the one before, to be played until they are clean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from listener.judging.verdict import HIT, Verdict
from listener.planning.plan import Plan

#: How often in a row a spot must be clean before it is let go (our own choice).
CLEAN_TIMES: Final = 3
#: Two spots nearer than this are one.
_JOIN: Final = 2


@dataclass(frozen=True, slots=True)
class HardSpot:
    """Steps ``first`` to ``last`` (inclusive, from 0), and how often in a row they have been clean."""

    first: int
    last: int
    clean: int = 0

    def after(self, verdicts: Sequence[Verdict]) -> HardSpot:
        """The spot after one time through: one more clean time, or back to none."""
        tried = {verdict.step: verdict.grade for verdict in reversed(verdicts) if verdict.attempt == 1}
        clean = all(tried.get(step) == HIT for step in range(self.first, self.last + 1))
        return replace(self, clean=self.clean + 1 if clean else 0)

    @property
    def done(self) -> bool:
        """Clean often enough."""
        return self.clean >= CLEAN_TIMES


def hard_spots(plan: Plan, verdicts: Sequence[Verdict]) -> tuple[HardSpot, ...]:
    """What to loop after a take: each step that was no hit at the first attempt, with the step that leads into it.

    A spot never reaches over the border of a passage. Steps that were not tried are not spots.
    """
    missed = sorted({v.step for v in verdicts if v.attempt == 1 and v.grade != HIT and v.step < len(plan.steps)})
    spots: list[HardSpot] = []
    for step in missed:
        passage = plan.steps[step].step.passage
        before = step - 1 if step and plan.steps[step - 1].step.passage == passage else step
        if spots and before - spots[-1].last < _JOIN and plan.steps[spots[-1].last].step.passage == passage:
            spots[-1] = replace(spots[-1], last=step)
        else:
            spots.append(HardSpot(before, step))
    return tuple(spots)
