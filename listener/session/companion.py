"""What goes with a player through all takes of a sitting: the hand's load, the loop's words, how it was last time."""

from __future__ import annotations

from dataclasses import dataclass, replace

from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.session.loop import Loop
from listener.session.rest import USUAL_S, Load, reminder
from listener.session.since import WholeTake, improved
from listener.session.take.state import FINISHED, Snapshot


class Companion:
    """Told of every settled verdict, it adds to each snapshot what the player should know.

    ``after_s`` is the load in seconds after which a rest is proposed, ``before`` the last whole take of this drill.
    Times are seconds on the clock of the sitting.
    """

    def __init__(self, after_s: float = USUAL_S, before: WholeTake | None = None) -> None:
        self.load = Load(after_s)
        self.before = before
        #: What to say during a take when nothing is more pressing.
        self.words = ""
        #: What comes by itself after the last take of a loop, empty when the player decides.
        self.then = ""
        #: The loop that this take is a part of, and whether the player broke the take off.
        self.loop: Loop | None = None
        self.broken_off = False
        self._last_words: tuple[tuple[object, ...], _AtTheEnd] | None = None

    def judged(self, plan: Plan, verdict: Verdict, now_s: float) -> None:
        """A chord was played; silence is no load."""
        if verdict.heard and verdict.step < len(plan.steps):
            self.load = self.load.played(plan.steps[verdict.step].fingering.strain, now_s)

    def heard(self, now_s: float) -> None:
        """A chord was played of which nobody knows how it lies in the hand."""
        self.load = self.load.played(0.0, now_s)

    def ended(self, snapshot: Snapshot) -> None:
        """A take is over: the next one is compared with it, if it was whole."""
        self.before = self._standing(snapshot) or self.before
        self._last_words = None

    def dressed(self, snapshot: Snapshot, now_s: float) -> Snapshot:
        """The snapshot with the line of talk, and at the end of a take with what improved."""
        care = reminder(self.load, now_s)
        if snapshot.phase != FINISHED:
            return replace(snapshot, note=snapshot.note or care or ("" if snapshot.away else self.words))
        end = self._at_the_end(snapshot)
        note = snapshot.note or _both(end.words, care)
        return replace(snapshot, note=note, since=end.since, coming=end.coming)

    def _at_the_end(self, snapshot: Snapshot) -> _AtTheEnd:
        """Worked out once: an ended take is shown many times a second, and changes no more."""
        take = (snapshot.verdicts, snapshot.tempo, self.broken_off)
        if self._last_words is None or self._last_words[0] != take:
            since = improved(self.before, self._standing(snapshot)) if snapshot.plan.steps else ""
            after = self.loop.after(snapshot.verdicts) if self.loop is not None and not self.broken_off else None
            words = after.words if after is not None else self.words
            if after is not None and after.done:
                words = _both(words, self.then)
            coming = words if after is not None and (self.then or not after.done) else ""
            self._last_words = (take, _AtTheEnd(since, words, coming))
        return self._last_words[1]

    def begins(self, loop: Loop) -> None:
        """A take of this loop begins."""
        self.loop, self.broken_off, self._last_words = loop, False, None
        self.words = loop.words

    def _standing(self, snapshot: Snapshot) -> WholeTake | None:
        return WholeTake.of(snapshot.account, snapshot.tempo)


@dataclass(frozen=True, slots=True)
class _AtTheEnd:
    """What improved, what to say, and what comes by itself."""

    since: str
    words: str
    coming: str


def _both(words: str, care: str) -> str:
    return f"{words}; {care}" if words and care else words or care
