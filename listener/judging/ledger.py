"""What was judged so far, and the making of verdicts: attempts, solved steps, and what was heard last."""

from __future__ import annotations

from dataclasses import dataclass

from listener.hearing.events import Stroke
from listener.judging.doubt import as_meant
from listener.judging.match import Comparison
from listener.judging.strictness import targets
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.judging.words import off_beat
from listener.music.movement import movement, movement_score
from listener.planning.plan import Plan
from listener.planning.route import least_movement


@dataclass(frozen=True, slots=True)
class Pending:
    """A verdict that may still be put right until ``until_s``; what had been heard before its stroke."""

    verdict: Verdict
    stroke: Stroke
    until_s: float
    before: tuple[int, ...] | None


class Ledger:
    """Strokes in, verdicts out, for steps that the caller has chosen."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self.targets = targets(plan)
        #: What was heard last (MIDI), None after a jump; and what of it was plucked.
        self.before: tuple[int, ...] | None = None
        self.last_struck: tuple[int, ...] = ()
        self.attempts: dict[int, int] = {}
        self.solved: set[int] = set()
        #: Notes that the pickup had sent an octave high and that were taken as meant.
        self.octaves_set_right = 0
        self._memo: tuple[Stroke, int, tuple[Comparison, tuple[int, ...], tuple[int, ...], bool]] | None = None

    def grade(self, stroke: Stroke, step: int) -> str:
        """What the stroke would be worth, timing aside."""
        return self._judged(stroke, step)[0].grade

    def _judged(self, stroke: Stroke, step: int) -> tuple[Comparison, tuple[int, ...], tuple[int, ...], bool]:
        """The comparison, what was heard and held, and whether an octave was set right; the last one is remembered."""
        if self._memo is None or self._memo[0] is not stroke or self._memo[1] != step:
            meant, raised = as_meant(stroke, self._plan.steps[step])
            self._memo = (stroke, step, (*self.targets[step].judge(meant), raised))
        return self._memo[2]

    def verdict(self, step: int, stroke: Stroke, offset_ms: float | None) -> Verdict:
        """The verdict; that of a settled stroke is remembered."""
        target = self.targets[step]
        comparison, heard, held, raised = self._judged(stroke, step)
        comparison = self._in_time(comparison, offset_ms)
        attempt = self.attempts.get(step, 0) + 1
        change = movement(self.before, heard) if self.before else None
        least = least_movement(self.before, target.options) if self.before else None
        score = None
        if change is not None and least is not None and comparison.grade != MISS:
            score = movement_score(least, change.cost, len(heard))
        if stroke.settled:
            self.attempts[step] = attempt
            self.before = heard
            self.last_struck = stroke.struck_pitches
            self.octaves_set_right += raised
            if comparison.grade == HIT:
                self.solved.add(step)
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
            movement_score=score,
            settled=stroke.settled,
        )

    def again(self, pending: Pending, stroke: Stroke, offset_ms: float | None) -> Verdict:
        """The verdict of a stroke that stands in place of the pending one: the same attempt, from the same chord."""
        step = pending.verdict.step
        before, attempts = self.before, self.attempts[step]
        self.before, self.attempts[step] = pending.before, attempts - 1
        found = self.verdict(step, stroke, offset_ms)
        if not stroke.settled:
            self.before, self.attempts[step] = before, attempts
        return found

    def not_played(self, step: int, fault: Fault, onset_s: float) -> Verdict:
        """The step went by without a stroke of its own."""
        self.attempts[step] = 1
        self.before = None
        return Verdict(step, 1, MISS, (fault,), (), (), onset_s, 0.0)

    def is_same_again(self, stroke: Stroke, step: int) -> bool:
        """What was played last is struck once more, right or wrong; tones that were held may have died."""
        if self.before is None or step - 1 not in self.attempts:
            return False
        solved = step - 1 in self.solved and self.grade(stroke, step - 1) == HIT
        return solved or stroke.struck_pitches == self.last_struck

    def is_nearer_to_last(self, stroke: Stroke, step: int) -> bool:
        """Not quite what was played last (a note may have got lost on the way), but no less like it than this step."""
        if self.before is None or step - 1 not in self.attempts:
            return False
        struck = set(stroke.struck_pitches)
        last, due = set(self.before) | set(self.targets[step - 1].pitches), set(self.targets[step].pitches)
        return len(struck & last) >= max(1, len(struck & due)) and 2 * len(struck & last) >= len(struck)

    def is_ahead(self, stroke: Stroke, step: int) -> bool:
        """After this step was tried: notes that only the next chord has."""
        if step not in self.attempts or step + 1 >= len(self.targets):
            return False
        struck, following = set(stroke.struck_pitches), set(self.targets[step + 1].pitches)
        return struck < following and not struck & set(self.targets[step].pitches)

    def _in_time(self, comparison: Comparison, offset_ms: float | None) -> Comparison:
        if offset_ms is None or abs(offset_ms) <= self._plan.drill.timing_ms:
            return comparison
        grade = NEAR if comparison.grade == HIT else comparison.grade
        return Comparison(grade, (*comparison.faults, off_beat(offset_ms)))
