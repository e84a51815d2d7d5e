"""Which step a stroke was meant for.

With the click the time decides. At the player's own pace every chord is the next step, with exceptions that a listening
teacher would make too:

- a chord that puts the step before right is a second attempt at it;
- a chord that is exactly the next step's, and not this one's, means that this one was left out;
- a chord struck once more is no attempt at the next step: the one verdict stands.

With the click and without, a chord that is not right yet may be put right within :data:`GRACE_S`, and then counts
as played right at once. A note that does not belong to this chord but to the next is tried there before it is flagged:
with the click a bass note that comes early, after its own chord was played, is no attempt at anything; it rings on and
counts as held. Arpeggios are heard out first (:mod:`listener.judging.roll`, and without a click
:mod:`listener.judging.arpeggios`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from listener.hearing.events import Stroke, on_grid
from listener.judging.arpeggios import FreeArpeggios
from listener.judging.ledger import Ledger, Pending
from listener.judging.own_pace import OwnPace
from listener.judging.pace import EARLY_SHARE, Anchor, Timetable
from listener.judging.roll import Roll
from listener.judging.verdict import HIT, Verdict
from listener.judging.words import left_out, nothing
from listener.planning.plan import Plan

#: A stroke may still be open this long after its step's time is over (longest stroke and settling).
_GRACE_S: Final = 0.4
#: Put right so soon after its last note, a chord counts as played right at once (our choice: sooner than the ear has
#: told the hand; no chord of the measured take followed another within 200 ms).
GRACE_S: Final = 0.200
#: A string that comes so soon after the others is part of the same slow strum (our choice).
_SAME_STRUM_S: Final = 0.150
#: With the click, the last chord again this share of a step before the next is due is no early next one (our choice).
_WELL_BEFORE_SHARE: Final = 0.25
#: Notes in doubt are certain after so long, rounded up.
_CERTAIN_S: Final = 0.060


class Follower:
    """Strokes and the passing of time in, verdicts out. Holds which step is due and what was heard last.

    Times are those of plucks: the pickup's delay is taken off before (:mod:`listener.hearing.plucks`).
    """

    def __init__(self, plan: Plan, anchor: Anchor | None = None) -> None:
        self._arpeggio = plan.drill.arpeggio
        self._timing_s = plan.drill.timing_ms / 1000
        self._ledger = Ledger(plan)
        self._targets = self._ledger.targets
        self._steps = [planned.step for planned in plan.steps]
        self._timetable: Timetable | None = None
        self._pending: Pending | None = None
        self._pace = OwnPace(plan, self._ledger)
        self._roll: Roll | None = None
        self._free = FreeArpeggios(plan, self._ledger) if plan.drill.arpeggio else None
        #: See :meth:`keep_strokes`; None keeps nothing.
        self.strokes: list[Stroke] | None = None
        self._step = 0
        self.paused = False
        if anchor is not None:
            self.anchor(anchor)

    @property
    def step(self) -> int:
        """The step that is due."""
        return self._step if self._free is None or self._timetable is not None else self._free.step

    @step.setter
    def step(self, step: int) -> None:
        self._step = step

    def keep_strokes(self) -> list[Stroke]:
        """A list that fills with settled strokes as they were understood: what was put together counts once, an
        arpeggio is one."""
        self.strokes = []
        if self._free is not None:
            self._free.strokes = self.strokes
        return self.strokes

    @property
    def finished(self) -> bool:
        """All steps are done."""
        return self.step >= len(self._targets) and self._pending is None

    @property
    def octaves_set_right(self) -> int:
        """Notes that the pickup had sent an octave high and that were taken as meant."""
        return self._ledger.octaves_set_right

    @property
    def next_unplayed(self) -> int:
        """The step to go on with after a pause: the one that is due, unless it has been played already."""
        step = self.step
        while step in self._ledger.attempts:
            step += 1
        return step

    @property
    def timetable(self) -> Timetable | None:
        """The due times, None at the player's own pace."""
        return self._timetable

    def anchor(self, anchor: Anchor) -> None:
        """Go on with the click from here."""
        if anchor.step < len(self._steps):
            self._timetable = Timetable(self._steps, anchor, self._early_share())
            self._ledger.new_click()
        self.go_to(anchor.step)

    def _early_share(self) -> float:
        """Of a step; in an arpeggio of one of its notes, since its last note comes shortly before the next chord."""
        if not self._arpeggio:
            return EARLY_SHARE
        return EARLY_SHARE / max((len(target.pitches) for target in self._targets), default=1)

    def go_to(self, step: int) -> None:
        """Go on with this step; what was heard before no longer counts as its neighbour."""
        self.step = step
        self._ledger.before = None
        self._roll = None
        if self._free is not None:
            self._free.go_to(step)
        self._pace.jump()
        self.paused = False

    def pause(self) -> None:
        """Until the next anchor or jump nothing is judged."""
        self.paused = True

    def target_at(self, time_s: float) -> tuple[int, ...] | None:
        """The pitches (MIDI) that would be right for a chord that begins at this time."""
        if self._free is not None and self._timetable is None:
            return None if self.paused else self._free.target()
        step = self._step_at(time_s)
        if self.paused or step >= len(self._targets):
            return None
        pitches = self._targets[step].pitches
        if self._roll is not None and self._roll.step == step:
            return self._roll.lacking(pitches) or pitches
        return pitches

    def _step_at(self, time_s: float) -> int:
        return self.step if self._timetable is None else self._timetable.step_at(time_s, first=self.step)

    def tick(self, now_s: float, gathering_since_s: float | None = None) -> list[Verdict]:
        """What has become certain: steps of the click that went by in silence, chords that were not put right.

        ``gathering_since_s`` is when the stroke that is being gathered began: it may still put a chord right.
        """
        if self.paused:
            return []
        found: list[Verdict] = []
        pending = self._pending
        since_s = now_s if gathering_since_s is None else gathering_since_s
        if pending is not None and min(now_s, since_s) - _CERTAIN_S >= pending.until_s:
            found += self._settle()
        past_s = min(now_s - _GRACE_S, since_s - _CERTAIN_S)
        if self._timetable is None:
            return found if self._free is None else found + self._free.tick(past_s)
        roll = self._roll
        if roll is not None and roll.over(past_s):
            found += self._end_roll()
        return found + self._gone_by(min(now_s - _GRACE_S, since_s))

    def ended(self, time_s: float) -> None:
        """A note fell silent: notes that end together tell where a hand left its chord."""
        if self._free is not None:
            self._free.ended(time_s)

    def flush(self) -> list[Verdict]:
        """Nothing will be put right any more."""
        return self._settle() + self._end_roll() + (self._free.flush() if self._free is not None else [])

    def feed(self, stroke: Stroke) -> list[Verdict]:
        """What a stroke, settled or not yet, is worth."""
        if self.paused:
            return []
        mended = self._put_right_at_once(stroke)
        if mended is not None:
            return mended
        found = self._settle() if stroke.settled else []
        if stroke.settled and not self._arpeggio and self.strokes is not None:
            self.strokes.append(stroke)
        if self.step >= len(self._targets):
            return found
        timetable = self._timetable
        if self._free is not None:
            return found + (self._free.feed(stroke) if timetable is None else self._rolled(stroke, timetable))
        if timetable is None:
            return found + self._at_own_pace(stroke)
        return found + self._with_click(stroke, timetable)

    def _put_right_at_once(self, stroke: Stroke) -> list[Verdict] | None:
        """The verdict of a stroke that completes or corrects the one before; None when it does not."""
        pending = self._pending
        if pending is None or stroke.onset_s >= pending.until_s:
            return None
        step = pending.verdict.step
        whole = stroke
        if stroke.onset_s - pending.stroke.struck[-1].time_s < _SAME_STRUM_S:
            joined = replace(stroke, struck=(*pending.stroke.struck, *stroke.struck))
            whole = joined if self._ledger.grade(joined, step) == HIT else stroke
        if self._ledger.grade(whole, step) != HIT:
            return None
        # Timing is that of the stroke that was most of the chord, not of a mended finger or an early bass note.
        main = whole if len(whole.struck) > len(pending.stroke.struck) else pending.stroke
        if stroke.settled:
            self._pending = None
            if self.strokes is not None:
                self.strokes[-1:] = [whole] if whole is not stroke else [*self.strokes[-1:], stroke]
        return [self._ledger.again(pending, whole, self._offset_ms(main, step))]

    def _settle(self) -> list[Verdict]:
        pending, self._pending = self._pending, None
        return [pending.verdict] if pending is not None else []

    def _not_yet(self, verdict: Verdict, stroke: Stroke, before: tuple[int, ...] | None) -> Verdict:
        """A hit stands; anything else is given out unsettled, and settled when it was not put right."""
        if verdict.grade == HIT or not verdict.settled:
            return verdict
        until_s = stroke.struck[-1].time_s + GRACE_S
        self._pending = Pending(verdict, stroke, until_s, before)
        return replace(verdict, settled=False)

    def _gone_by(self, until_s: float) -> list[Verdict]:
        found: list[Verdict] = []
        timetable = self._timetable
        while timetable is not None and self.step < len(self._targets) and timetable.closes_s(self.step) <= until_s:
            if self._roll is not None and self._roll.step == self.step:
                found += self._end_roll()
            if self.step not in self._ledger.attempts:
                found += self._settle()
                found.append(self._ledger.not_played(self.step, nothing(), on_grid(timetable.due_s[self.step])))
            self.step += 1
        return found

    def _with_click(self, stroke: Stroke, timetable: Timetable) -> list[Verdict]:
        if stroke.onset_s < timetable.opens_s(self.step):
            return []
        found = self._gone_by(stroke.onset_s) if stroke.settled else []
        step = timetable.step_at(stroke.onset_s, first=self.step)
        if step >= len(self._targets) or step in self._ledger.solved:
            return found
        again = step in self._ledger.attempts and self._ledger.is_last_struck(stroke)
        if again or self._ledger.is_ahead(stroke, step) or self._lags_behind(stroke, step, timetable):
            return found
        found.append(self._judged(step, stroke, self._offset_ms(stroke, step)))
        if step == len(self._targets) - 1 and step in self._ledger.solved:
            self.step = step + 1
        return found

    def _lags_behind(self, stroke: Stroke, step: int, timetable: Timetable) -> bool:
        """The chord before once more, well before this one is due: no attempt at this one."""
        early_s = timetable.due_s[step] - stroke.onset_s
        if early_s <= max(self._timing_s, _WELL_BEFORE_SHARE * timetable.length_s[step - 1]):
            return False
        return self._ledger.is_same_again(stroke, step) or self._ledger.is_nearer_to_last(stroke, step)

    def _offset_ms(self, stroke: Stroke, step: int) -> float | None:
        if self._timetable is None:
            return None
        return round(1000 * (stroke.onset_s - self._timetable.due_s[step]), 1)

    def _at_own_pace(self, stroke: Stroke) -> list[Verdict]:
        step = self.step
        grade = self._ledger.grade(stroke, step)
        earlier = self._ledger.put_right(stroke, step, grade, soon=self._pace.soon(stroke.onset_s, step))
        if earlier is not None:
            if stroke.settled and earlier < step - 1:
                self._pace.jump()
                self.step = earlier + 1
            return [self._judged(earlier, stroke, None)]
        if self._pace.repeats(stroke, step, grade):
            return []
        found: list[Verdict] = []
        for missed in range(step, self._ledger.going_on_with(stroke, step, grade) if stroke.settled else step):
            found.append(self._ledger.not_played(missed, left_out(self._targets[missed].chord), stroke.onset_s))
            step = missed + 1
        found.append(self._judged(step, stroke, None))
        if stroke.settled:
            self._pace.begin(stroke.onset_s, step)
            self.step = step + 1
        return found

    def _rolled(self, stroke: Stroke, timetable: Timetable) -> list[Verdict]:
        """Each note of an arpeggio is a stroke of its own; what belongs together is judged together."""
        if stroke.onset_s < timetable.opens_s(self.step):
            return []
        found, step = list[Verdict](), self._step_of_note(stroke, timetable)
        if stroke.settled and self._roll is not None and step != self._roll.step:
            found += self._end_roll()
            step = self._step_of_note(stroke, timetable)
        if stroke.settled:
            found += self._gone_by(stroke.onset_s)
        if step >= len(self._targets):
            return found
        roll = self._roll if self._roll is not None and self._roll.step == step else None
        if roll is None:
            roll = Roll(step, timetable.closes_s(step))
        whole = roll.with_stroke(stroke)
        if not roll.complete and self._ledger.grade(whole, step) == HIT:
            found.append(self._ledger.verdict(step, replace(whole, settled=False), self._offset_ms(whole, step)))
            roll.complete = stroke.settled
        if stroke.settled:
            roll.stroke = whole
            self._roll = roll
        return found

    def _step_of_note(self, stroke: Stroke, timetable: Timetable) -> int:
        """By time; a note of the current arpeggio that is a little late, and not one of the next, stays with it."""
        step, roll = timetable.step_at(stroke.onset_s, first=self.step), self._roll
        if roll is None or step != roll.step + 1 or step >= len(self._targets):
            return step
        early = stroke.onset_s < timetable.due_s[step]
        struck, lacking = set(stroke.struck_pitches), set(roll.lacking(self._targets[roll.step].pitches))
        return roll.step if early and struck <= lacking and not struck & set(self._targets[step].pitches) else step

    def _end_roll(self) -> list[Verdict]:
        roll, self._roll = self._roll, None
        if roll is None or roll.stroke is None:
            return []
        if self.strokes is not None:
            self.strokes.append(roll.stroke)
        offset_ms = self._offset_ms(roll.stroke, roll.step)
        found = [self._ledger.verdict(roll.step, replace(roll.stroke, settled=True), offset_ms)]
        if roll.step == len(self._targets) - 1:
            self.step = roll.step + 1
        return found

    def _judged(self, step: int, stroke: Stroke, offset_ms: float | None) -> Verdict:
        before = self._ledger.before
        return self._not_yet(self._ledger.verdict(step, stroke, offset_ms), stroke, before)
