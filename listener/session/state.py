"""What the practice loop shows of itself: one frozen snapshot, from which any screen can be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.judging.verdict import Verdict
from listener.planning.plan import Plan, PlannedStep

READY: Final = "ready"
COUNT_IN: Final = "count-in"
PLAYING: Final = "playing"
PAUSED: Final = "paused"
FINISHED: Final = "finished"


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The moment as the player should see it.

    ``step`` is the index of the target in the plan. ``verdict`` is the newest one and may be unsettled (shown at once,
    confirmed a moment later); ``verdicts`` are the settled ones of this take, oldest first. ``tempo`` is in beats per
    minute, None at the player's own pace; ``bar`` and ``beat`` count from 1 and are 0 without a click; in the count-in
    ``beat`` counts the beats of the count-in. ``sounding`` are the MIDI notes that ring now. ``note`` is one line of
    talk for the player, empty when there is nothing to say.
    """

    plan: Plan
    phase: str
    step: int
    verdict: Verdict | None
    verdicts: tuple[Verdict, ...]
    sounding: tuple[int, ...]
    now_s: float
    tempo: float | None
    bar: int
    beat: int
    source: str
    note: str = ""

    @property
    def target(self) -> PlannedStep | None:
        """The step to be played now, None when the take is over."""
        return self.plan.steps[self.step] if self.step < len(self.plan.steps) else None

    def count(self, grade: str) -> int:
        """How many steps of this take have that grade at their first attempt."""
        return sum(verdict.grade == grade and verdict.attempt == 1 for verdict in self.verdicts)
