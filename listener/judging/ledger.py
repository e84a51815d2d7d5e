"""What was judged so far, and the making of verdicts: attempts, solved steps, and what was heard last."""

from __future__ import annotations

from listener.drill.drill import OWN_MEAN, REMARKS_AS_FAULTS
from listener.hearing.events import Stroke
from listener.judging.doubt import Raised, as_meant, neck, still_ringing
from listener.judging.match import Comparison
from listener.judging.own_time import OwnTime, off_own_mean
from listener.judging.remarks.faults import RemarkFaults
from listener.judging.strictness import targets
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.judging.words import off_beat, rolled
from listener.music.movement import movement, movement_score
from listener.planning.plan import Plan
from listener.planning.routes.route import least_movement


class Ledger:
    """Strokes in, verdicts out, for steps that the caller has chosen."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self.targets = targets(plan)
        #: What was heard last (MIDI), None after a jump.
        self.before: tuple[int, ...] | None = None
        self.attempts: dict[int, int] = {}
        #: Steps of which all notes were right, in time or not.
        self.solved: set[int] = set()
        #: Notes that the pickup had sent an octave high and that were taken as meant.
        self.octaves_set_right = 0
        self._neck = neck(plan)
        #: Those of them that may still ring.
        self._raised: tuple[Raised, ...] = ()
        self._own_time = OwnTime() if plan.drill.timing == OWN_MEAN else None
        self._remark_faults = RemarkFaults(self.targets) if plan.drill.remarks == REMARKS_AS_FAULTS else None
        self._memo: tuple[Stroke, int, tuple[Comparison, tuple[int, ...], tuple[int, ...], Raised | None]] | None = None

    def is_right(self, stroke: Stroke, step: int) -> bool:
        """Whether there is nothing to put right, timing aside."""
        by_notes, heard, _, _ = self._judged(stroke, step)
        if by_notes.grade != HIT:
            return False
        return self._remark_faults is None or not self._remark_faults.faults(step, self.before, heard)

    def _judged(self, stroke: Stroke, step: int) -> tuple[Comparison, tuple[int, ...], tuple[int, ...], Raised | None]:
        """The comparison, what was heard and held, and an octave that was set right; the last one is remembered."""
        if self._memo is None or self._memo[0] is not stroke or self._memo[1] != step:
            meant, raised = as_meant(stroke, self._plan.steps[step], self._neck, self._raised)
            comparison, heard, held = self.targets[step].judge(meant)
            self._memo = (stroke, step, (self._together(comparison, stroke), heard, held, raised))
        return self._memo[2]

    def _together(self, comparison: Comparison, stroke: Stroke) -> Comparison:
        """A drill may want a chord's notes closer together than they were."""
        most_ms = self._plan.drill.together_ms
        if comparison.grade != HIT or most_ms is None or stroke.spread_ms <= most_ms:
            return comparison
        return Comparison(NEAR, (rolled(stroke.spread_ms),))

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
            self.octaves_set_right += raised is not None
            self._raised = (*still_ringing(self._raised, stroke), *([raised] if raised else ()))
            self._memo = None
            self._learn_time(comparison.grade, offset_ms)
            if by_notes.grade == HIT:
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

    def not_played(self, step: int, fault: Fault, onset_s: float) -> Verdict:
        """The step went by without a stroke of its own."""
        self.attempts[step] = 1
        self.before = None
        return Verdict(step, 1, MISS, (fault,), (), (), onset_s, 0.0)

    def new_click(self) -> None:
        """After an anchor the player finds into the beat anew."""
        if self._own_time is not None:
            self._own_time = OwnTime()

    def _own_offset_ms(self, offset_ms: float | None) -> float | None:
        if self._own_time is None or offset_ms is None:
            return None
        return self._own_time.about_mean(offset_ms)

    def _learn_time(self, grade: str, offset_ms: float | None) -> None:
        """A settled verdict goes into the player's mean, unless it was a miss: its offset belongs to another chord."""
        if self._own_time is not None and offset_ms is not None and grade != MISS:
            self._own_time = self._own_time.after(offset_ms)

    def _in_time(self, comparison: Comparison, offset_ms: float | None, own_offset_ms: float | None) -> Comparison:
        judged_ms = offset_ms if self._own_time is None else own_offset_ms
        if judged_ms is None or abs(judged_ms) <= self._plan.drill.timing_ms:
            return comparison
        grade = NEAR if comparison.grade == HIT else comparison.grade
        fault = off_beat(judged_ms) if self._own_time is None else off_own_mean(judged_ms)
        return Comparison(grade, (*comparison.faults, fault))
