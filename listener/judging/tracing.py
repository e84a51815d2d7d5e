"""From strokes to verdicts: whose chord each stroke is, what the player does there, and what it is worth.

:mod:`listener.following` places each stroke; :mod:`listener.judging.attempts` makes attempts of those at one step;
:mod:`listener.judging.ledger` gives verdicts. What is known so far is said at once, unsettled; a verdict is settled
when later strokes, or silence, have made sure whose its strokes were. Only settled verdicts count.

Nobody is blamed for silence or for noodling: a step that went by is only said to have been left out when the player
went on after it, and not when they were away for :data:`AWAY_BARS` bars or more.

Decisions depend on the times of plucks alone: :meth:`Trace.passed` makes known what the next stroke would have made
known.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import replace
from math import inf
from typing import Final

from listener.following.follower import FILL, Follower, Sound, StrokePlace
from listener.following.own_pace import OwnPace
from listener.following.pace import Anchor, Timetable
from listener.following.prices import SURE_IN_LONG_SILENCE, SURE_IN_SILENCE
from listener.following.scores import Wanted
from listener.hearing.events import Stroke, on_grid
from listener.hearing.rings import Rings
from listener.judging.attempts import GRACE_S, IsRight, Visit, dropped
from listener.judging.fill import Aside, fill_over
from listener.judging.joining import rung_on, without_graces
from listener.judging.ledger import Ledger
from listener.judging.pattern.pattern import pattern_verdict
from listener.judging.strictness import StepTarget
from listener.judging.touch.log import TouchLog
from listener.judging.touch.touch import Visited
from listener.judging.verdict import Verdict
from listener.judging.words import left_out, nothing
from listener.planning.plan import Plan, PlannedStep

#: After so much silence a chord that was not right stands as an attempt.
SETTLE_S: Final = 1.0
#: By how much it must be certain whose a stroke was, in prices, to be settled after so much silence.
_SILENCES: Final = ((SETTLE_S, SURE_IN_SILENCE), (3.0, SURE_IN_LONG_SILENCE))
#: After so much silence a drill is over whose last chord was tried, but not right (our choice: time to put it right).
_END_S: Final = 4.0
#: And when it is not certain that it was the last chord, but likelier than all else (our choice): nothing will tell.
_SEEMS_OVER_S: Final = 10.0
#: Who plays nothing for so many bars was away.
AWAY_BARS: Final = 4
#: At own pace so many chords in a row may have been left out; whoever skips more has gone elsewhere.
_LEFT_OUT: Final = 2
#: After so long a wait no note is the chord before, picked on (our choice).
_PICKED_ON_S: Final = 1.0
#: After so long a breath two strings struck together are no more of the noodling before (our choice).
_BREATH_S: Final = 0.8

#: What somebody mostly does is what they did with most of so many chords.
_LATELY: Final = 12


class Trace:
    """Strokes and the passing of time in, verdicts out."""

    def __init__(self, plan: Plan, rings: Rings | None = None) -> None:
        self._plan = plan
        self.ledger = Ledger(plan)
        self._targets = self.ledger.targets
        lengths_ms = [round(1000 * one.step.length_beats * plan.drill.seconds_per_beat) for one in plan.steps]
        self._allowed = [frozenset(_allowed(target)) for target in self._targets]
        wanted = [_wanted(target) for target in self._targets]
        #: How many notes each chord has at least.
        self._fewest = [len(one.tones) for one in wanted]
        self._follower = Follower(wanted, lengths_ms, broken=plan.drill.arpeggio)
        self._opens = frozenset(plan.open_midi)
        self._pace = OwnPace(wanted, lengths_ms)
        self.timetable: Timetable | None = None
        #: Settled strokes as they were understood, what belongs together as one; None keeps none.
        self.strokes: list[Stroke] | None = None
        self._waiting: list[Stroke] = []
        self._visit: Visit | None = None
        #: The first step that nothing has been said of, and that was not passed.
        self._next = 0
        self._elsewhere = False
        #: The step that is due as far as is known.
        self.step = 0
        self._last_s: float | None = None
        #: How many of the silences that settle something have passed since the last stroke.
        self._silences = len(_SILENCES)
        #: What was said last without being settled: step, attempts before, and notes.
        self._shown: tuple[int, int, tuple[int, ...], tuple[int, ...]] | None = None
        self._noodled: set[int] = set()
        self._played = False
        #: What is to be said of each step that was left besides its verdicts, in the order in which they were: what was
        #: played over it, and what became of its pattern.
        self.asides: list[Aside] = []
        #: How each chord that was right was touched, where it is kept how long notes ring.
        self.touch = None if rings is None else TouchLog(plan, rings)
        self._filled: list[Stroke] = []
        self._visited: list[Stroke] = []
        #: What was heard by the last settled verdict.
        self._heard: tuple[int, ...] = ()
        #: The tones of the chord that was left last.
        self._came_from: frozenset[int] = frozenset()
        #: When the last stroke at any step was, of those whose place is certain.
        self._before_s = -inf
        #: When the last stroke was that was no step's.
        self._away_s = -inf
        #: Steps that were left out if the player really is where they seem to be, and when they came there.
        self._missed: list[int] = []
        self._came_s = 0.0
        #: When the last stroke was of somebody who is at a step, by what is known so far; None before the first.
        self.last_at_s: float | None = None
        self._until_right = False
        #: Of the last chords that were right, whether they were broken into their notes.
        self._picked: deque[bool] = deque(maxlen=_LATELY)
        self.finished = not plan.steps

    # What the player asks for ---------------------------------------------------------------------------------

    def with_click(self, anchor: Anchor) -> None:
        """Go on with the click from here."""
        if anchor.step < len(self._targets):
            self.timetable = Timetable([planned.step for planned in self._plan.steps], anchor)
            ends_s = self.timetable.due_s[-1] + self.timetable.length_s[-1]
            self._follower.with_click([round(1000 * time_s) for time_s in (*self.timetable.due_s, ends_s)])
            self.ledger.new_click()
        self.go_to(anchor.step)

    def go_to(self, step: int) -> None:
        """Go on with this step; what was heard before no longer counts as its neighbour."""
        self._follower.go_to(step)
        self._pace.jump()
        self.ledger.before = None
        self._visit, self._shown = None, None
        self._waiting.clear()
        self._next = self.step = step
        self._elsewhere, self._played, self._silences = False, False, len(_SILENCES)
        self._last_s = self.last_at_s = None
        self._noodled.clear()
        self._missed.clear()
        self.finished = step >= len(self._targets)
        if self._until_right:
            self._follower.only(step, step)

    def until_right(self) -> None:
        """From now on nobody goes on before a chord is right."""
        self._until_right = True
        self._follower.only(self.step, self.step)

    @property
    def next_unplayed(self) -> int:
        """The step to go on with after a pause: the one that is due, unless it was right already."""
        step = self.step
        while step in self.ledger.solved:
            step += 1
        return step

    # Strokes and time -----------------------------------------------------------------------------------------

    def feed(self, stroke: Stroke) -> list[Verdict]:
        """A stroke that is over, or one that still grows."""
        stroke = without_graces(stroke)
        timetable = self.timetable
        if self.finished or (timetable is not None and not self._played and self._is_before(stroke, timetable)):
            if stroke.settled:
                self._keep(stroke)
            return []
        if not stroke.settled:
            return self._so_far(stroke) if self._may_be_right(stroke) else []
        found = self.passed(stroke.onset_s)
        if self.finished or self._changes_over(stroke):
            self._keep(stroke)
            return found
        self._follower.feed(_sound(stroke))
        self._waiting.append(stroke)
        self._played = True
        self._last_s, self._silences = stroke.struck[-1].time_s, 0
        return found + self._settle() + self._so_far(None)

    def _changes_over(self, stroke: Stroke) -> bool:
        """With the click: open strings, strummed while the hand goes to the next chord, are nobody's chord."""
        timetable = self.timetable
        if timetable is None or len(stroke.struck_pitches) < 2 or not self._opens.issuperset(stroke.struck_pitches):
            return False
        step = bisect_right(timetable.due_s, stroke.onset_s + self._plan.drill.timing_ms / 1000)
        if not 0 < step < len(timetable.due_s) or timetable.due_s[step] - stroke.onset_s >= timetable.beat_s / 2:
            return False
        return not any(allowed.issuperset(stroke.struck_pitches) for allowed in self._allowed[step - 1 : step + 1])

    def _may_be_right(self, stroke: Stroke) -> bool:
        """Whether a stroke that still grows may complete the chord that is being played, or the one that is due: only
        that is said of it at once, and most notes are spared the question whose they are."""
        visit = self._visit
        steps = {self.step} if visit is None else {self.step, visit.step, visit.step + 1}
        if self.timetable is not None:
            steps.add(self.timetable.step_at(stroke.onset_s, first=0))
        struck = set(stroke.struck_pitches)
        before = () if visit is None or visit.attempt is None else visit.attempt.struck_pitches
        sounding = struck.union(stroke.held_pitches, before, *(one.struck_pitches for one in self._waiting))
        return any(
            struck <= self._allowed[step] and len(sounding & self._allowed[step]) >= self._fewest[step]
            for step in steps
            if step < len(self._targets)
        )

    def passed(self, until_s: float) -> list[Verdict]:
        """Nothing was plucked before this time that was not fed."""
        last_s = self._last_s
        found: list[Verdict] = []
        for wait_s, margin in _SILENCES[self._silences :]:
            if last_s is not None and until_s >= last_s + wait_s:
                self._silences += 1
                found += self._hushed(margin)
        if self._is_over(until_s):
            found += self.flush()
            self.finished = True
        return found

    def flush(self) -> list[Verdict]:
        """Nothing more belongs to what was played."""
        found = self._settle(0, 0) + self._leave()
        self._shown = None
        return found

    def _is_before(self, stroke: Stroke, timetable: Timetable) -> bool:
        return stroke.onset_s < timetable.opens_s(timetable.anchor.step)

    def _is_over(self, until_s: float) -> bool:
        last = len(self._targets) - 1
        if self.finished:
            return False
        if self.timetable is not None:
            return until_s >= self.timetable.closes_s(last) + SETTLE_S
        visit = self._visit
        if self._last_s is None:
            return False
        if self._waiting:
            seems_last = self._follower.places()[-1].step == last and not self._until_right
            return seems_last and until_s >= self._last_s + _SEEMS_OVER_S
        if visit is None or visit.step != last:
            return False
        if visit.right:
            return visit.attempt is None or until_s >= self._last_s + SETTLE_S
        tried = last in self.ledger.attempts and not self._until_right
        return tried and until_s >= self._last_s + _END_S

    def _hushed(self, margin: int) -> list[Verdict]:
        """It has been silent: what was likely becomes certain, but one chord alone moves nobody to another place."""
        found: list[Verdict] = []
        if self._waiting and not self._jumped():
            found += self._settle(margin)
        if not self._waiting and self._visit is not None and self._visit.whole:
            found += self._told(self._after(self._visit, self._visit.ended()))
        return found + self._so_far(None)

    def _jumped(self) -> bool:
        """Whether the player seems to be at another step than the one that was being played, or due, and the next, and
        only that one speaks for it."""
        here = self._next if self._visit is None else self._visit.step
        steps = [place.step for place in self._follower.places()]
        elsewhere = {step for step in steps if step is not None and step not in (here, here + 1)}
        return steps[-1] in elsewhere and len(elsewhere) == 1

    def _settle(self, *bounds: int) -> list[Verdict]:
        found: list[Verdict] = []
        for place in self._follower.settle(*bounds):
            found += self._placed(place, self._waiting.pop(0))
        return found

    # Where it belongs -----------------------------------------------------------------------------------------

    def _placed(self, place: StrokePlace, stroke: Stroke) -> list[Verdict]:
        """A stroke whose place is certain."""
        if place.step is None:
            found = self._wander(stroke)
            self._elsewhere, self._away_s = True, stroke.onset_s
            if self.timetable is not None:
                self._noodled.add(self.timetable.step_at(stroke.onset_s, first=0))
            self._keep(stroke)
            return found
        found = list[Verdict]()
        self._learn(place, stroke)
        if self._visit is None or self._visit.step != place.step:
            back = self._visit is not None and place.step < self._visit.step
            found += self._leave(stroke, stroke.onset_s, back=back) + self._come_to(place.step, stroke)
        assert self._visit is not None
        self.last_at_s = self._before_s = stroke.onset_s
        if place.doing != FILL:
            self._visited.append(stroke)
        if self._visit.passes_over(place.doing == FILL):
            if place.doing == FILL:
                self._filled.append(stroke)
            self._keep(stroke)
            return found + self._told(replace(self._visit, sure=True))
        return found + self._told(
            self._after(self._visit, self._visit.after(stroke, self._right_for(place.step)), stroke)
        )

    def _learn(self, place: StrokePlace, stroke: Stroke) -> None:
        """What this player does after a chord that was right, and after one that was not, where the notes tell."""
        visit = self._visit
        if visit is None or place.step is None or place.doing == FILL or self.timetable is not None:
            return
        by = place.step - visit.step
        if visit.right and by in (0, 1) and (by or visit.sure):
            self._follower.learn_after_right(visit.step, one=len(stroke.struck_pitches) == 1, leaves=by == 1)
        if by and (visit.wrong or not (visit.right or visit.lone)):
            self._follower.learn_after_wrong(visit.step, visit.step if visit.right else place.step)

    def _come_to(self, step: int, stroke: Stroke) -> list[Verdict]:
        found: list[Verdict] = []
        self._missed = [missed for missed in self._missed if missed < step]  # whoever comes back has not left it out
        if step > self._next:
            if self.timetable is not None:
                found += self._gone_by(step)
            elif not self._elsewhere:
                missed = self._untried(step)
                self._missed, self._came_s = missed if len(missed) <= _LEFT_OUT else [], stroke.onset_s
            self._next = step
        together = len(stroke.struck_pitches) > 1 and stroke.onset_s - self._away_s > _BREATH_S
        wandered, self._elsewhere = self._elsewhere and not together, False
        self._visited, self._filled = [], []
        if stroke.onset_s - self._before_s > _PICKED_ON_S:
            self._came_from = frozenset()
        self._pace.begin(round(1000 * stroke.onset_s), step)
        self._follower.pace_permille = self._pace.permille
        self._visit = replace(self._new_visit(step), wandered=wandered)
        self._due(step, right=False)
        return found

    def _new_visit(self, step: int) -> Visit:
        due_s = -inf
        if self.timetable is not None:
            due_s = self.timetable.due_s[step] - self._plan.drill.timing_ms / 1000
        target = self._targets[step]
        tones = self._allowed[step]
        return Visit(
            step,
            tones,
            len(target.pitches),
            due_s=due_s,
            shared=tones & self._came_from,
            opens=self._opens,
            one_by_one=self._plan.drill.arpeggio,
            picks=2 * sum(self._picked) > len(self._picked),
        )

    def _untried(self, step: int) -> list[int]:
        """Steps before this one that were passed without an attempt."""
        return [one for one in range(self._next, step) if one not in self.ledger.attempts]

    def _gone_by(self, step: int) -> list[Verdict]:
        """With the click: steps before this one that nothing was played for, unless the player was away."""
        timetable = self.timetable
        assert timetable is not None
        missed = self._untried(step)
        if not missed or not self._played or self._noodled & set(missed):
            return []
        beats = sum(self._plan.steps[one].step.length_beats for one in range(missed[0], step))
        if beats >= AWAY_BARS * self._plan.drill.meter[0]:
            return []
        return [self.ledger.not_played(one, nothing(), on_grid(timetable.due_s[one])) for one in missed]

    def _wander(self, stroke: Stroke) -> list[Verdict]:
        """From here on the player plays something else: part of a chord just before belongs to that."""
        self._missed.clear()
        visit = self._visit
        if visit is not None and not visit.right and visit.is_part and not self._was_meant(visit):
            self._visit = self._after(visit, replace(visit, attempt=None, broken=()))
        return self._leave(stroke)

    def _leave(
        self, following: Stroke | None = None, change_s: float | None = None, *, back: bool = False
    ) -> list[Verdict]:
        """The player goes on: what was being tried stands. A single string was no more than noodling when single
        strings follow elsewhere, or the player goes back. ``change_s`` is when another step's chord was begun, where it
        was."""
        if self._visit is None:
            return []
        alone = self._visit.lone and not self._visit.right and not self._plan.drill.arpeggio
        back = back and self._visit.count > 2  # of two notes one may be all that came out
        if alone and (back or (following is not None and len(following.struck_pitches) == 1)):
            self._visit = self._after(self._visit, replace(self._visit, attempt=None))
        visit, self._visit = self._visit, None
        found = self._verdicts(self._after(visit, visit.left()))
        self._came_from = visit.tones
        fill = fill_over(self._targets[visit.step], self._filled)
        if fill is not None:
            self.asides.append((visit.step, fill))
        planned, timetable = self._plan.steps[visit.step], self.timetable
        pattern = pattern_verdict(
            planned,
            self._visited,
            due_s=None if timetable is None else timetable.due_s[visit.step],
            beat_s=self._plan.drill.seconds_per_beat if timetable is None else timetable.beat_s,
        )
        if pattern is not None:
            self.asides.append((visit.step, pattern))
        if visit.right and self._visited:
            self._touch(planned, change_s, following)
        return found

    def _touch(self, planned: PlannedStep, change_s: float | None, following: Stroke | None) -> None:
        """A chord that was right has been left."""
        if self.touch is None:
            return
        began_s, beats = self._visited[0].onset_s, planned.step.length_beats
        if self.timetable is not None:
            beat_s = self.timetable.beat_s
        else:
            beat_s = self._plan.drill.seconds_per_beat if change_s is None else (change_s - began_s) / beats
        over_s = self._filled[0].onset_s if self._filled else inf
        stays = () if following is None else following.held_pitches
        said = self.touch.left(planned, self._heard, Visited(began_s, change_s, beat_s, over_s, stays))
        if said is not None:
            self.asides.append((planned.step.index, said))

    def _told(self, visit: Visit) -> list[Verdict]:
        """The visit as it stands; attempts that are over, or surely right, are told of."""
        if self._until_right and visit.right:
            visit = visit.surely()
        if visit.right:
            self._follower.learn_right(visit.step)
        found = self._verdicts(visit)
        self._visit = visit.told()
        self._due(visit.step, right=visit.right)
        return found

    def _verdicts(self, visit: Visit) -> list[Verdict]:
        over = visit.over
        if visit.sure and visit.attempt is not None:
            over = (*over, visit.attempt)
            self._picked.append(visit.was_picked)
        found: list[Verdict] = []
        if over:
            for missed in self._missed:
                found.append(self.ledger.not_played(missed, left_out(self._targets[missed].chord), self._came_s))
            self._missed.clear()
        return found + [self._verdict(visit.step, stroke, settled=True) for stroke in over]

    def _verdict(self, step: int, stroke: Stroke, *, settled: bool) -> Verdict:
        if settled:
            self._keep(stroke)
        if self.timetable is None and not self._plan.drill.arpeggio and stroke.spread_ms > 1000 * GRACE_S:
            stroke = rung_on(stroke, self._came_from)
        verdict = self.ledger.verdict(step, replace(stroke, settled=settled), self._offset_ms(stroke, step))
        if settled:
            self._heard = verdict.heard
        return verdict

    def _right_for(self, step: int) -> IsRight:
        return lambda stroke: self.ledger.is_right(stroke, step)

    def _offset_ms(self, stroke: Stroke, step: int) -> float | None:
        if self.timetable is None:
            return None
        return round(1000 * (stroke.onset_s - self.timetable.due_s[step]), 1)

    def _was_meant(self, visit: Visit) -> bool:
        """With the click: tones of the chord, struck together and on its beat, were meant."""
        if visit.attempt is None or not visit.whole or not visit.tones.issuperset(visit.attempt.struck_pitches):
            return False
        offset_ms = self._offset_ms(visit.attempt, visit.step)
        return offset_ms is not None and abs(offset_ms) <= self._plan.drill.timing_ms

    def _due_after(self, step: int, right: bool) -> int:
        """With the click a step is due until its time is over, at own pace until it is right."""
        return step + 1 if right and self.timetable is None else step

    def _due(self, step: int, *, right: bool) -> None:
        self.step = self._due_after(step, right)
        if self._until_right:
            self._follower.only(step, min(step + right, len(self._targets) - 1))

    def _after(self, before: Visit, after: Visit, *strokes: Stroke) -> Visit:
        """``after``, which came of ``before`` and these strokes; what it says nothing of is kept as it was played."""
        if self.strokes is not None:
            for stroke in dropped(before, after, strokes):
                self._keep(stroke)
        return after

    def _keep(self, stroke: Stroke) -> None:
        if self.strokes is not None:
            self.strokes.append(replace(stroke, settled=True))

    # What is known so far -------------------------------------------------------------------------------------

    def _so_far(self, growing: Stroke | None) -> list[Verdict]:
        """What may be said of strokes that are not settled; only what is new."""
        places = self._follower.places()
        strokes = list(self._waiting)
        if growing is not None:
            places.append(self._follower.peek(_sound(growing)))
            strokes.append(growing)
        visit = self._visit
        for place, stroke in zip(places, strokes, strict=True):
            if place.step is None:
                visit = None
            elif visit is None or visit.step != place.step:
                visit = self._new_visit(place.step)
            if visit is not None and not visit.passes_over(place.doing == FILL):
                visit = visit.after(stroke, self._right_for(visit.step))
        if visit is None:
            return []
        if strokes:
            self.last_at_s = strokes[-1].onset_s
        self.step = self._due_after(visit.step, visit.right)
        if visit.attempt is None or not (visit.right or visit.whole):
            return []
        if growing is not None and not visit.right:
            return []  # it may still become right
        now = (visit.step, len(visit.over), visit.attempt.struck_pitches, visit.attempt.held_pitches)
        if now == self._shown:
            return []
        self._shown = now
        return [self._verdict(visit.step, visit.attempt, settled=False)]


def _sound(stroke: Stroke) -> Sound:
    return Sound(round(1000 * stroke.onset_s), stroke.struck_pitches, stroke.held_pitches, stroke.rang)


def _wanted(target: StepTarget) -> Wanted:
    lax = target.planned.step.free_voicing
    return Wanted(target.pitches, lax, tuple(target.chord.pitch_classes) if lax else ())


def _allowed(target: StepTarget) -> set[int]:
    """The pitches that its chord may have, where any voicing will do in every octave."""
    if not target.planned.step.free_voicing:
        return set(target.pitches)
    tones = {*target.chord.pitch_classes, *(pitch % 12 for pitch in target.pitches)}
    return {pitch for pitch in range(128) if pitch % 12 in tones}
