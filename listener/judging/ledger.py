"""What was judged so far, and the making of verdicts: attempts, solved steps, and what was heard last."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.hearing.events import Stroke
from listener.judging.doubt import Raised, as_meant, neck, still_ringing
from listener.judging.match import Comparison
from listener.judging.own_time import OwnTime, off_own_mean
from listener.judging.remark_faults import RemarkFaults
from listener.judging.strictness import targets
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.judging.words import off_beat
from listener.music.movement import movement, movement_score
from listener.planning.drill import OWN_MEAN, REMARKS_AS_FAULTS
from listener.planning.plan import Plan
from listener.planning.route import least_movement

#: At own pace, after a chord that went wrong, a stroke is looked for so many steps back and on (our choice).
LOST_STEPS: Final = 3


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
        self._last_struck: tuple[tuple[int, ...], ...] = ()
        self.attempts: dict[int, int] = {}
        self.solved: set[int] = set()
        #: Notes that the pickup had sent an octave high and that were taken as meant.
        self.octaves_set_right = 0
        self._neck = neck(plan)
        #: Those of them that may still ring.
        self._raised: tuple[Raised, ...] = ()
        self._own_time = OwnTime() if plan.drill.timing == OWN_MEAN else None
        #: The same without the last settled verdict, which may still be put right.
        self._own_time_before = self._own_time
        self._remark_faults = RemarkFaults(self.targets) if plan.drill.remarks == REMARKS_AS_FAULTS else None
        self._memo: tuple[Stroke, int, tuple[Comparison, tuple[int, ...], tuple[int, ...], Raised | None]] | None = None

    def grade(self, stroke: Stroke, step: int) -> str:
        """What the stroke would be worth, timing and remarks aside."""
        return self._judged(stroke, step)[0].grade

    def _judged(self, stroke: Stroke, step: int) -> tuple[Comparison, tuple[int, ...], tuple[int, ...], Raised | None]:
        """The comparison, what was heard and held, and an octave that was set right; the last one is remembered."""
        if self._memo is None or self._memo[0] is not stroke or self._memo[1] != step:
            meant, raised = as_meant(stroke, self._plan.steps[step], self._neck, self._raised)
            self._memo = (stroke, step, (*self.targets[step].judge(meant), raised))
        return self._memo[2]

    def verdict(self, step: int, stroke: Stroke, offset_ms: float | None) -> Verdict:
        """The verdict; that of a settled stroke is remembered."""
        target = self.targets[step]
        by_notes, heard, held, raised = self._judged(stroke, step)
        own_offset_ms = self._own_offset_ms(offset_ms)
        comparison = self._in_time(by_notes, offset_ms, own_offset_ms)
        if self._remark_faults is not None and by_notes.grade == HIT:
            said = self._remark_faults.faults(step, self.before, heard)
            comparison = Comparison(NEAR, (*comparison.faults, *said)) if said else comparison
        attempt = self.attempts.get(step, 0) + 1
        change = movement(self.before, heard) if self.before else None
        least = least_movement(self.before, target.options) if self.before else None
        score = None
        if change is not None and least is not None and comparison.grade != MISS:
            score = movement_score(least, change.cost, len(heard))
        if stroke.settled:
            if self._remark_faults is not None:
                self._remark_faults.settle(step, self.before)
            self.attempts[step] = attempt
            self.before = heard
            self._last_struck = (stroke.struck_pitches,)
            if raised is not None:
                meant = {raised.meant if note.pitch == raised.sent else note.pitch for note in stroke.struck}
                self._last_struck += (tuple(sorted(meant)),)
            self.octaves_set_right += raised is not None
            self._raised = (*still_ringing(self._raised, stroke), *([raised] if raised else ()))
            self._memo = None
            self._learn_time(comparison.grade, offset_ms)
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
            own_offset_ms=own_offset_ms,
        )

    def again(self, pending: Pending, stroke: Stroke, offset_ms: float | None) -> Verdict:
        """The verdict of a stroke that stands in place of the pending one: the same attempt, from the same chord."""
        step = pending.verdict.step
        before, attempts, own_time = self.before, self.attempts[step], self._own_time
        self.before, self.attempts[step], self._own_time = pending.before, attempts - 1, self._own_time_before
        found = self.verdict(step, stroke, offset_ms)
        if not stroke.settled:
            self.before, self.attempts[step], self._own_time = before, attempts, own_time
        return found

    def not_played(self, step: int, fault: Fault, onset_s: float) -> Verdict:
        """The step went by without a stroke of its own."""
        self.attempts[step] = 1
        self.before = None
        return Verdict(step, 1, MISS, (fault,), (), (), onset_s, 0.0)

    def is_last_struck(self, stroke: Stroke) -> bool:
        """The very pitches that were plucked last, as they came or as they were meant."""
        return stroke.struck_pitches in self._last_struck

    def is_same_again(self, stroke: Stroke, step: int) -> bool:
        """What was played last is struck once more, right or wrong; tones that were held may have died."""
        if self.before is None or step - 1 not in self.attempts:
            return False
        solved = step - 1 in self.solved and self.grade(stroke, step - 1) == HIT
        return solved or self.is_last_struck(stroke)

    def is_nearer_to_last(self, stroke: Stroke, step: int) -> bool:
        """Not quite what was played last (a note may have got lost on the way), but no less like it than this step."""
        if self.before is None or step - 1 not in self.attempts:
            return False
        struck = set(stroke.struck_pitches)
        last, due = set(self.before) | set(self.targets[step - 1].pitches), set(self.targets[step].pitches)
        return len(struck & last) >= max(1, len(struck & due)) and 2 * len(struck & last) >= len(struck)

    def went_wrong(self, step: int) -> bool:
        """It was tried, and never right."""
        return step in self.attempts and step not in self.solved

    def put_right(self, stroke: Stroke, step: int, grade: str, *, soon: bool | None) -> int | None:
        """At own pace: the step before, if it went wrong and this is exactly it; or a little farther back.

        So ear and player find each other again (after a stroke that was not sent, or a repeat taken for the next step).
        ``grade`` is what the stroke would be worth for ``step``, the one that is due; ``soon`` says that it comes
        sooner than that one should (None where no pace is known): it then rather puts the same chord before it right.
        In its own time, and nearly right, it is meant for the one that is due.
        """
        if grade == HIT:
            again = soon and self.went_wrong(step - 1) and self.grade(stroke, step - 1) == HIT
            return step - 1 if again else None
        if grade == NEAR and soon is False:
            return None
        for before in range(step - 1, max(-1, step - 1 - (LOST_STEPS if grade == MISS else 1)), -1):
            if not self.went_wrong(before):
                return None
            if self.grade(stroke, before) == HIT:
                return before
        return None

    def going_on_with(self, stroke: Stroke, step: int, grade: str) -> int:
        """At own pace: the step that this exactly is, if some were left out and it is nothing like the one that is due.

        Else the one that is due. A near miss is likelier than a chord left out, unless two went wrong already.
        """
        wrong = [self.went_wrong(step - 1), self.went_wrong(step - 2)]
        far = (LOST_STEPS if any(wrong) else 1) if grade == MISS else int(grade != HIT and all(wrong))
        last = self.targets[step].pitches
        for later in range(step + 1, len(self.targets)):
            # Of the same chord several times the last is as far away as the first.
            chord = self.targets[later].pitches
            far, last = far - (chord != last), chord
            if far < 0:
                break
            if chord != self.targets[step].pitches and self.grade(stroke, later) == HIT:
                return later
        return step

    def is_ahead(self, stroke: Stroke, step: int) -> bool:
        """After this step was tried: notes that only the next chord has."""
        if step not in self.attempts or step + 1 >= len(self.targets):
            return False
        struck, following = set(stroke.struck_pitches), set(self.targets[step + 1].pitches)
        return struck < following and not struck & set(self.targets[step].pitches)

    def new_click(self) -> None:
        """After an anchor the player finds into the beat anew."""
        if self._own_time is not None:
            self._own_time = self._own_time_before = OwnTime()

    def _own_offset_ms(self, offset_ms: float | None) -> float | None:
        if self._own_time is None or offset_ms is None:
            return None
        return self._own_time.about_mean(offset_ms)

    def _learn_time(self, grade: str, offset_ms: float | None) -> None:
        """A settled verdict goes into the player's mean, unless it was a miss: its offset belongs to another chord."""
        self._own_time_before = self._own_time
        if self._own_time is not None and offset_ms is not None and grade != MISS:
            self._own_time = self._own_time.after(offset_ms)

    def _in_time(self, comparison: Comparison, offset_ms: float | None, own_offset_ms: float | None) -> Comparison:
        judged_ms = offset_ms if self._own_time is None else own_offset_ms
        if judged_ms is None or abs(judged_ms) <= self._plan.drill.timing_ms:
            return comparison
        grade = NEAR if comparison.grade == HIT else comparison.grade
        fault = off_beat(judged_ms) if self._own_time is None else off_own_mean(judged_ms)
        return Comparison(grade, (*comparison.faults, fault))
