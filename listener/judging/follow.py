"""Which step a stroke was meant for.

With the click the time decides. At the player's own pace every chord is the next step, with two exceptions that a
listening teacher would make too: a chord that puts the step before right is a second attempt at it, and a chord that is
exactly the next step's, and not this one's, means that this one was left out.
"""

from __future__ import annotations

from listener.hearing.events import Stroke, on_grid
from listener.judging.match import Comparison
from listener.judging.pace import Anchor, Timetable
from listener.judging.strictness import StepTarget, targets
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.judging.words import left_out, nothing, off_beat
from listener.music.movement import movement, movement_score
from listener.planning.plan import Plan
from listener.planning.route import least_movement

#: A stroke may still be open this long after its step's time is over (longest stroke and settling).
_GRACE_S = 0.4


class Follower:
    """Strokes and the passing of time in, verdicts out. Holds which step is due and what was heard last."""

    def __init__(self, plan: Plan, anchor: Anchor | None = None) -> None:
        self._plan = plan
        self._targets = targets(plan)
        self._steps = [planned.step for planned in plan.steps]
        self._timetable: Timetable | None = None
        self._before: tuple[int, ...] | None = None
        self._attempts: dict[int, int] = {}
        self._solved: set[int] = set()
        self.step = 0
        self.paused = False
        if anchor is not None:
            self.anchor(anchor)

    @property
    def finished(self) -> bool:
        """All steps are done."""
        return self.step >= len(self._targets)

    @property
    def next_unplayed(self) -> int:
        """The step to go on with after a pause: the one that is due, unless it has been played already."""
        step = self.step
        while step in self._attempts:
            step += 1
        return step

    @property
    def timetable(self) -> Timetable | None:
        """The due times, None at the player's own pace."""
        return self._timetable

    def anchor(self, anchor: Anchor) -> None:
        """Go on with the click from here."""
        if anchor.step < len(self._steps):
            self._timetable = Timetable(self._steps, anchor)
        self.go_to(anchor.step)

    def go_to(self, step: int) -> None:
        """Go on with this step; what was heard before no longer counts as its neighbour."""
        self.step = step
        self._before = None
        self.paused = False

    def pause(self) -> None:
        """Until the next anchor or jump nothing is judged."""
        self.paused = True

    def target_at(self, time_s: float) -> tuple[int, ...] | None:
        """The pitches (MIDI) that would be right for a chord that begins at this time."""
        step = self.step if self._timetable is None else self._timetable.step_at(time_s, first=self.step)
        return None if self.paused or step >= len(self._targets) else self._targets[step].pitches

    def tick(self, now_s: float) -> list[Verdict]:
        """Steps of the click that went by in silence."""
        if self._timetable is None or self.paused:
            return []
        return self._gone_by(now_s - _GRACE_S)

    def feed(self, stroke: Stroke) -> list[Verdict]:
        """What a stroke, settled or not yet, is worth."""
        if self.paused or self.finished:
            return []
        return self._at_own_pace(stroke) if self._timetable is None else self._with_click(stroke, self._timetable)

    # With the click ------------------------------------------------------------------------------------------

    def _gone_by(self, until_s: float) -> list[Verdict]:
        found: list[Verdict] = []
        timetable = self._timetable
        while timetable is not None and not self.finished and timetable.closes_s(self.step) <= until_s:
            if self.step not in self._attempts:
                found.append(self._not_played(self.step, nothing(), on_grid(timetable.due_s[self.step])))
            self.step += 1
        return found

    def _with_click(self, stroke: Stroke, timetable: Timetable) -> list[Verdict]:
        if stroke.onset_s < timetable.opens_s(self.step):
            return []
        found = self._gone_by(stroke.onset_s) if stroke.settled else []
        step = timetable.step_at(stroke.onset_s, first=self.step)
        if step >= len(self._targets) or step in self._solved:
            return found
        offset_ms = round(1000 * (stroke.onset_s - timetable.due_s[step]), 1)
        found.append(self._verdict(step, stroke, self._targets[step], offset_ms))
        if step == len(self._targets) - 1 and step in self._solved:
            self.step = step + 1
        return found

    # At the player's own pace --------------------------------------------------------------------------------

    def _at_own_pace(self, stroke: Stroke) -> list[Verdict]:
        step = self.step
        if self._puts_right(stroke, step):
            return [self._verdict(step - 1, stroke, self._targets[step - 1], None)]
        found: list[Verdict] = []
        if stroke.settled and self._leaves_out(stroke, step):
            found.append(self._not_played(step, left_out(self._targets[step].chord), stroke.onset_s))
            step += 1
        found.append(self._verdict(step, stroke, self._targets[step], None))
        if stroke.settled:
            self.step = step + 1
        return found

    def _puts_right(self, stroke: Stroke, step: int) -> bool:
        before = step - 1
        return (
            before in self._attempts
            and before not in self._solved
            and self._grade(stroke, before) == HIT
            and self._grade(stroke, step) != HIT
        )

    def _leaves_out(self, stroke: Stroke, step: int) -> bool:
        after = step + 1
        return after < len(self._targets) and self._grade(stroke, step) == MISS and self._grade(stroke, after) == HIT

    def _grade(self, stroke: Stroke, step: int) -> str:
        return self._targets[step].judge(stroke)[0].grade

    # Verdicts ------------------------------------------------------------------------------------------------

    def _verdict(self, step: int, stroke: Stroke, target: StepTarget, offset_ms: float | None) -> Verdict:
        comparison, heard, held = target.judge(stroke)
        comparison = self._in_time(comparison, offset_ms)
        attempt = self._attempts.get(step, 0) + 1
        change = movement(self._before, heard) if self._before else None
        least = least_movement(self._before, target.options) if self._before else None
        scored = change is not None and least is not None and comparison.grade != MISS
        if stroke.settled:
            self._attempts[step] = attempt
            self._before = heard
            if comparison.grade == HIT:
                self._solved.add(step)
        return Verdict(
            step=step,
            attempt=attempt,
            grade=comparison.grade,
            faults=comparison.faults,
            heard=heard,
            held=held,
            onset_s=stroke.onset_s,
            spread_ms=stroke.spread_ms,
            offset_ms=offset_ms,
            movement=change,
            least=least,
            movement_score=movement_score(least, change.cost, len(heard))
            if scored and change is not None and least is not None
            else None,
            settled=stroke.settled,
        )

    def _in_time(self, comparison: Comparison, offset_ms: float | None) -> Comparison:
        if offset_ms is None or abs(offset_ms) <= self._plan.drill.timing_ms:
            return comparison
        grade = NEAR if comparison.grade == HIT else comparison.grade
        return Comparison(grade, (*comparison.faults, off_beat(offset_ms)))

    def _not_played(self, step: int, fault: Fault, onset_s: float) -> Verdict:
        self._attempts[step] = 1
        self._before = None
        return Verdict(step, 1, MISS, (fault,), (), (), onset_s, 0.0)
