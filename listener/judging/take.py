"""From MIDI messages to verdicts: the one chain that judges live takes, files and replays alike.

Verdicts depend on the times of messages and marks only, never on how often :meth:`TakeJudge.tick` is called, so a take
that is replayed gives the same verdicts to the last digit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from listener.errors import SourceError
from listener.hearing.cleaning import DIED_EARLY, OCTAVE_HIGH
from listener.hearing.ears import Ears
from listener.hearing.events import Message, Stroke
from listener.hearing.gathering import window_for
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import AnyTake, Mark
from listener.judging.follow import Follower
from listener.judging.marks import END as END
from listener.judging.marks import PAUSE as PAUSE
from listener.judging.marks import in_order
from listener.following.pace import Anchor, Timetable, parse_anchor
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan

#: Open lowest string of a bass guitar, MIDI 28 (equal temperament).
_LOW_HZ = 41.2


class TakeJudge:
    """Push messages and marks in order of time, get verdicts."""

    def __init__(self, plan: Plan, pickup: Pickup, anchor: Anchor | None = None) -> None:
        self._plan = plan
        self._follower = Follower(plan, anchor)
        self._ears = Ears(pickup, self._window(), as_they_grow=True)
        #: How late a low note may be known: what is decided by the clock waits for it.
        self._latest_s = max(0.0, pickup.delay_s(_LOW_HZ))
        self._announced = False
        self._died_early = 0

    def _window(self) -> float:
        timetable = self._follower.timetable
        return window_for(None if timetable is None else timetable.beat_s * min(self._shortest_beats(), 1.0))

    def _shortest_beats(self) -> float:
        return min((planned.step.length_beats for planned in self._plan.steps), default=1.0)

    @property
    def step(self) -> int:
        """Index of the step that is due."""
        return self._follower.step

    @property
    def next_unplayed(self) -> int:
        """Index of the step to go on with after a pause."""
        return self._follower.next_unplayed

    @property
    def finished(self) -> bool:
        """All steps are done."""
        return self._follower.finished

    @property
    def timetable(self) -> Timetable | None:
        """Due times with the click, None at own pace."""
        return self._follower.timetable

    def keep_strokes(self) -> list[Stroke]:
        """A list that fills with settled strokes as they were understood, an arpeggio as one, with the times of the
        plucks."""
        return self._follower.keep_strokes()

    @property
    def cleaned(self) -> dict[str, int]:
        """How often each kind of the pickup's errors was set right: the kinds of :mod:`listener.hearing.cleaning`."""
        return {
            **self._ears.cleaned,
            DIED_EARLY: self._died_early,
            OCTAVE_HIGH: self._follower.octaves_set_right,
        }

    @property
    def sounding(self) -> tuple[int, ...]:
        """MIDI notes that ring now."""
        return self._ears.sounding

    def feed(self, message: Message) -> list[Verdict]:
        """One message; verdicts that it brought about, and those that its time brought about."""
        found = self.tick(message.time_s)
        return found + self._strokes(self._ears.feed(message))

    def tick(self, now_s: float) -> list[Verdict]:
        """Time has passed."""
        found = self._strokes(self._ears.tick(now_s))
        known_s = self._ears.known_s(now_s)
        return found + self._follower.tick(now_s - self._latest_s, gathering_since_s=known_s)

    def _strokes(self, strokes: Iterable[Stroke]) -> list[Verdict]:
        found: list[Verdict] = []
        for stroke in strokes:
            wanted = set(self._follower.target_at(stroke.onset_s) or ())
            died = tuple(note for note in stroke.died if note.pitch in wanted)
            whole = replace(stroke, held=(*stroke.held, *died))
            struck = set(whole.struck_pitches)
            if stroke.settled:
                self._announced = False
                self._died_early += len(died)
                found += self._follower.feed(whole)
            elif not self._announced and struck <= wanted <= struck | set(whole.held_pitches):
                self._announced = True
                found += self._follower.feed(whole)
        return found

    def _silence(self) -> list[Verdict]:
        """What silence for ever would bring about."""
        return self._strokes(self._ears.flush()) + self._follower.flush()

    def mark(self, mark: Mark) -> list[Verdict]:
        """The player asked for something: ``pause``, ``click ...`` (an anchor), ``step N`` or ``end``."""
        found = self.tick(mark.time_s)
        word = mark.word
        if word == PAUSE:
            found += self._silence()
            self._follower.pause()
        elif word.startswith("click "):
            found += self._silence()
            self._follower.anchor(parse_anchor(word))
            self._ears.window_s = self._window()
        elif word.startswith("step "):
            found += self._silence()
            self._follower.go_to(_step_number(word))
        elif word == END:
            found += self.finish()
        return found

    def finish(self) -> list[Verdict]:
        """No more messages will come: judge what is still open."""
        return self._silence()

    def hear(self, take: AnyTake) -> list[Verdict]:
        """A whole take, to its end: all settled verdicts, in the order in which they were given."""
        found: list[Verdict] = []
        for entry in in_order(take):
            found += self.mark(entry) if isinstance(entry, Mark) else self.feed(entry)
        found += self.finish()
        return [verdict for verdict in found if verdict.settled]


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


def first_onset_s(take: AnyTake) -> float:
    """When the first note of a take begins, 0 when there is none."""
    starts = (m.time_s for m in take.messages if m.data[0] & 0xF0 == 0x90 and len(m.data) > 2 and m.data[2])
    return next(starts, 0.0)
