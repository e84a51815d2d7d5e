"""What goes with a player through all takes of a sitting: the hand's load, the loop's words, how it was last time."""

from __future__ import annotations

from dataclasses import replace

from listener.judging.score import summarise
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.session.rest import USUAL_S, Load, reminder
from listener.session.since import Standing, improved
from listener.session.state import FINISHED, Snapshot


class Companion:
    """Told of every settled verdict, it adds to each snapshot what the player should know.

    ``after_s`` is the load in seconds after which a rest is proposed, ``before`` the last whole take of this drill.
    Times are seconds on the clock of the sitting.
    """

    def __init__(self, after_s: float = USUAL_S, before: Standing | None = None) -> None:
        self.load = Load(after_s)
        self.before = before
        #: What to say when nothing is more pressing.
        self.words = ""

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

    def dressed(self, snapshot: Snapshot, now_s: float) -> Snapshot:
        """The snapshot with the line of talk, and at the end of a take with what improved."""
        care = reminder(self.load, now_s)
        over = snapshot.phase == FINISHED
        note = snapshot.note or (_both(self.words, care) if over else care or self.words)
        since = improved(self.before, self._standing(snapshot)) if over and snapshot.plan.steps else ""
        return replace(snapshot, note=note, since=since)

    def _standing(self, snapshot: Snapshot) -> Standing | None:
        return Standing.of_summary(summarise(snapshot.verdicts, len(snapshot.plan.steps)), snapshot.tempo)


def _both(words: str, care: str) -> str:
    return f"{words}; {care}" if words and care else words or care
