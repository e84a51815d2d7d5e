"""When nobody is at a chord any more: from when on the take pauses by itself, what it says then, and what wakes it.

With the click that is after :data:`listener.judging.tracing.AWAY_BARS` bars that nobody played, so that the judge
blames nobody for them; the click stops, and a chord wakes the take. At the player's own pace it is after
:data:`OWN_PACE_S` and only shown: the judge goes on listening and finds the player again by itself. Silence and
noodling are the same here; only the words differ.
"""

from __future__ import annotations

from bisect import bisect_right
from math import inf
from typing import Final

from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.judging.strictness import targets
from listener.judging.take import TakeJudge
from listener.judging.tracing import AWAY_BARS
from listener.judging.verdict import HIT, Verdict
from listener.planning.plan import Plan
from listener.session.take.passages import first_of_passage
from listener.session.take.presence import Presence
from listener.session.take.waking import Waker

#: At the player's own pace the take pauses so long after the last stroke at a step (our choice).
OWN_PACE_S: Final = 30.0
#: Who played a note so short a time before the pause is still playing something (our choice).
_STILL_S: Final = 5.0
#: A note so soon after the last stroke belongs to it, and so new a one may begin a chord (our choice).
_BESIDE_S: Final = 1.0
#: Faults of a chord whose notes were right.
_TIMING: Final = frozenset({"late", "early"})


class Absence:
    """Watches a take for the absence of its player. It goes to ``last_step``, the end of a part of the drill, or to the
    end where that is None. Times are seconds of the take."""

    def __init__(self, plan: Plan, pickup: Pickup, judge: TakeJudge, last_step: int | None) -> None:
        self._plan = plan
        self._pickup = pickup
        self._judge = judge
        self._last_step = len(plan.steps) - 1 if last_step is None else last_step
        self._is_part = last_step is not None
        self._presence = Presence()
        #: There while the click has stopped by itself, and since when.
        self._waker: Waker | None = None
        self._since_s = 0.0
        self._played_s: float | None = None
        #: The last chord that was surely played since the take began or went on.
        self._last: Verdict | None = None

    @property
    def last_s(self) -> float | None:
        """When somebody was last at a chord; None when nobody was since the take began or went on."""
        return self._presence.last_s

    @property
    def at_s(self) -> float:
        """With the click: when so many bars will have gone by that nobody played; never where the click ends before. A
        part in which nobody was is not played again and again: it waits at its end."""
        timetable, played_s = self._judge.timetable, self.last_s
        if timetable is None:
            return inf
        first = timetable.anchor.step
        if played_s is not None:
            now = timetable.step_at(played_s, first=max(first, bisect_right(timetable.due_s, played_s) - 1))
            # Who comes in early is at the next step already; where noodling seems to be does not matter.
            first = now + 2 if self._judge.step > now else now + 1
        beats = 0.0
        for index in range(first, self._last_step + 1):
            beats += self._plan.steps[index].step.length_beats
            if beats >= AWAY_BARS * self._plan.drill.meter[0]:
                return timetable.due_s[index] + timetable.length_s[index]
        if self._is_part and played_s is None:
            return timetable.due_s[self._last_step] + timetable.length_s[self._last_step]
        return inf

    @property
    def waits(self) -> bool:
        """The click has stopped by itself."""
        return self._waker is not None

    @property
    def step(self) -> int:
        """While the click has stopped: the step to go on with, which is the one after the last that was played, unless
        that was not right. Where noodling seemed to be does not matter."""
        timetable = self._judge.timetable
        if self._last is None:
            return 0 if timetable is None else timetable.anchor.step
        return self._last.step + (set(self._last.fault_codes) <= _TIMING)

    def begin(self, now_s: float, played_s: float | None) -> None:
        """The click stops; somebody was last there at ``played_s``, by what was known before that settled everything.
        The step to go on with wakes the take, and the first one of its passage does."""
        step, wishes = self.step, targets(self._plan)
        may_be = dict.fromkeys((step, first_of_passage(self._plan.steps, step)))
        self._waker = Waker(self._pickup, [(one, wishes[one]) for one in may_be if one <= self._last_step])
        self._since_s, self._played_s = now_s, played_s

    def end(self) -> None:
        """The take goes on, or is over."""
        self._waker = self._last = None
        self._presence.found(None)

    def feed(self, message: Message) -> int | None:
        """Any message; the step with which somebody has come back, if the click has stopped."""
        if message.begins_note:
            self._presence.note(message.time_s)
        self._presence.found(self._judge.last_at_s)
        return self._waker.feed(message) if self._waker is not None else None

    def tick(self, now_s: float) -> int | None:
        """The same when only time has passed."""
        self._presence.found(self._judge.last_at_s)
        return self._waker.tick(now_s) if self._waker is not None else None

    def judged(self, verdict: Verdict) -> None:
        """A verdict that was given: who plays a chord right is there at once, who plays it wrong when that is sure."""
        if verdict.heard and (verdict.settled or verdict.grade == HIT):
            self._presence.judged(verdict.onset_s)
        if verdict.heard and verdict.settled:
            self._last = verdict

    def words(self, now_s: float) -> str:
        """Why the take has paused by itself and how it goes on; empty when it has not."""
        judge = self._judge
        since_s, played_s, step = self._since_s, self._played_s, self.step
        if self._waker is None:
            played_s = self.last_s
            if judge.timetable is not None or played_s is None:
                return ""
            since_s, step = played_s + OWN_PACE_S, judge.step
        if now_s < since_s:
            return ""
        chord = self._plan.steps[step].voicing.chord if step <= self._last_step else None
        from_s = since_s - _STILL_S if played_s is None else max(since_s - _STILL_S, played_s + _BESIDE_S)
        noodling = self._presence.anything(from_s, now_s - _BESIDE_S)
        return away_words("" if chord is None else str(chord), noodling=noodling)


def away_words(chord: str, *, noodling: bool) -> str:
    """``chord`` is empty when there is none to go on with.

    >>> away_words("C/E", noodling=False), away_words("", noodling=True)
    ('Paused: nobody is playing. Play C/E to go on.', 'Paused while you play something else.')
    """
    go_on = f" Play {chord} to go on." if chord else ""
    return f"Paused while you play something else.{go_on}" if noodling else f"Paused: nobody is playing.{go_on}"
