"""From MIDI messages to verdicts: the one chain that judges live takes, files and replays alike.

Verdicts depend on the times of messages and marks only, never on how often :meth:`TakeJudge.tick` is called, so a take
that is replayed gives the same verdicts to the last digit.
"""

from __future__ import annotations

from listener.errors import SourceError
from listener.following.pace import Anchor, Timetable
from listener.hearing.cleaning import OCTAVE_HIGH
from listener.hearing.ears import Ears
from listener.hearing.events import Message, Stroke
from listener.hearing.gathering import window_for
from listener.hearing.pickup import Pickup
from listener.hearing.plucks import Plucks
from listener.hearing.rings import Rings
from listener.hearing.take_file import AnyTake, Mark
from listener.judging.fill import Aside
from listener.judging.marks import END as END
from listener.judging.marks import PAUSE as PAUSE
from listener.judging.marks import UNTIL_RIGHT as UNTIL_RIGHT
from listener.judging.marks import click_of, in_order
from listener.judging.touch.log import TouchLog
from listener.judging.tracing import Trace
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan


class TakeJudge:
    """Push messages and marks in order of time, get verdicts."""

    def __init__(self, plan: Plan, pickup: Pickup, anchor: Anchor | None = None) -> None:
        self._plan = plan
        rings = Rings(Plucks(pickup))
        self._ears = Ears(pickup, window_for(None), as_they_grow=True, rings=rings)
        self._trace = Trace(plan, rings)
        self._paused = False
        if anchor is not None:
            self._anchor(anchor)

    @property
    def step(self) -> int:
        """Index of the step that is due."""
        return self._trace.step

    @property
    def next_unplayed(self) -> int:
        """Index of the step to go on with after a pause."""
        return self._trace.next_unplayed

    @property
    def finished(self) -> bool:
        """All steps are done."""
        return self._trace.finished

    @property
    def timetable(self) -> Timetable | None:
        """Due times with the click, None at own pace."""
        return self._trace.timetable

    @property
    def asides(self) -> list[Aside]:
        """What is to be said of each step that was left besides its verdicts (its index, what was played over it and
        what became of its pattern), oldest first."""
        return self._trace.asides

    @property
    def touch(self) -> TouchLog:
        """How each chord that was right when it was left was touched, and what that comes to."""
        assert self._trace.touch is not None  # the ears keep how long notes ring
        return self._trace.touch

    @property
    def last_at_s(self) -> float | None:
        """When the last stroke was of somebody who is at a step, by what is known so far; None when nobody was since
        the take began or went on."""
        return self._trace.last_at_s

    def keep_strokes(self) -> list[Stroke]:
        """A list that fills with settled strokes as they were understood, a chord rolled or broken as one, with the
        times of the plucks."""
        self._trace.strokes = []
        return self._trace.strokes

    @property
    def cleaned(self) -> dict[str, int]:
        """How often each kind of the pickup's errors was set right: the kinds of :mod:`listener.hearing.cleaning`."""
        return {**self._ears.cleaned, OCTAVE_HIGH: self._trace.ledger.octaves_set_right}

    @property
    def sounding(self) -> tuple[int, ...]:
        """MIDI notes that ring now."""
        return self._ears.sounding

    def feed(self, message: Message) -> list[Verdict]:
        """One message; verdicts that it brought about, and those that its time brought about."""
        return self._heard(self._ears.feed(message), message.time_s)

    def tick(self, now_s: float) -> list[Verdict]:
        """Time has passed."""
        return self._heard(self._ears.tick(now_s), now_s)

    def mark(self, mark: Mark) -> list[Verdict]:
        """The player asked for something: ``pause``, ``click ...`` (an anchor), ``step N``, ``until right`` or
        ``end``."""
        found = self.tick(mark.time_s)
        word = mark.word
        if word == PAUSE:
            found += self.finish()
            self._paused = True
        elif (anchor := click_of(mark)) is not None:
            found += self.finish()
            self._anchor(anchor)
        elif word.startswith("step "):
            found += self.finish()
            self._trace.go_to(_step_number(word))
            self._paused = False
        elif word == UNTIL_RIGHT:
            self._trace.until_right()
        elif word == END:
            found += self.finish()
        return found

    def finish(self) -> list[Verdict]:
        """No more messages will come: judge what is still open."""
        strokes = self._ears.flush()
        if self._paused:
            return []
        found = [verdict for stroke in strokes for verdict in self._trace.feed(stroke)]
        return found + self._trace.flush()

    def hear(self, take: AnyTake) -> list[Verdict]:
        """A whole take, to its end: all settled verdicts, in the order in which they were given."""
        found: list[Verdict] = []
        for entry in in_order(take):
            found += self.mark(entry) if isinstance(entry, Mark) else self.feed(entry)
        found += self.finish()
        return [verdict for verdict in found if verdict.settled]

    def _heard(self, strokes: list[Stroke], now_s: float) -> list[Verdict]:
        if self._paused:
            return []
        found = [verdict for stroke in strokes for verdict in self._trace.feed(stroke)]
        return found + self._trace.passed(self._ears.known_s(now_s))

    def _anchor(self, anchor: Anchor) -> None:
        self._trace.with_click(anchor)
        self._paused = False
        timetable = self._trace.timetable
        shortest = min((planned.step.length_beats for planned in self._plan.steps), default=1.0)
        self._ears.window_s = window_for(None if timetable is None else timetable.beat_s * min(shortest, 1.0))


def step_mark(time_s: float, step: int) -> Mark:
    """The mark for a jump to a step (from 0)."""
    return Mark(time_s, f"step {step}")


def _step_number(word: str) -> int:
    number = word.removeprefix("step ")
    if not number.isdecimal():
        raise SourceError(f"the take has a mark that cannot be read: '{word}'")
    return int(number)


def judge_take(plan: Plan, pickup: Pickup, take: AnyTake, anchor: Anchor | None = None) -> list[Verdict]:
    """All settled verdicts of a take, in the order in which they were given."""
    return TakeJudge(plan, pickup, anchor).hear(take)


def click_from_first_note(take: AnyTake, tempo: float, name: str, option: str) -> Anchor:
    """The click, at ``tempo`` beats a minute, for a file from elsewhere: its first note is the first beat.

    :class:`SourceError` for a take, which says itself when its beats were; ``name`` is that of the file, and ``option``
    what asks for the tempo.
    """
    if take.header is not None:
        raise SourceError(f"{name} is a take that carries its own timing; leave {option} out")
    return Anchor(0, next((message.time_s for message in take.messages if message.begins_note), 0.0), tempo)
