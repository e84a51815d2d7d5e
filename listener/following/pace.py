"""When each step is due: with the click, or whenever the player likes.

The click is anchored: a step, the time when it is due and a tempo. Pausing and going on sets a new anchor; so does
every other jump. Anchors are kept with the take as marks, which is how a replay knows them too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.drill.drill import Step
from listener.errors import SourceError

#: How much of the shorter neighbouring step an onset may come early and still belong to the later one. A chord
#: anticipated by up to half a step is still that chord (measured on simulated 8ths: nothing lost up to 60 ms early).
EARLY_SHARE = 0.5
#: What a mark may say, which anybody can have written: bounds far beyond what is played, in seconds and beats a minute.
_FARTHEST_S: Final = 1e6
_SLOWEST: Final = 1.0
_FASTEST: Final = 1e6


@dataclass(frozen=True, slots=True)
class Anchor:
    """Step number ``step`` (from 0) is due at ``time_s``; ``tempo`` in beats per minute."""

    step: int
    time_s: float
    tempo: float

    def word(self) -> str:
        """As a mark in the take."""
        return f"click {self.step} {self.time_s!r} {self.tempo!r}"


def parse_anchor(word: str) -> Anchor:
    """Read :meth:`Anchor.word` back."""
    parts = word.split()
    try:
        if len(parts) != 4 or parts[0] != "click":
            raise ValueError
        anchor = Anchor(int(parts[1]), float(parts[2]), float(parts[3]))
        if anchor.step < 0 or not abs(anchor.time_s) <= _FARTHEST_S or not _SLOWEST <= anchor.tempo <= _FASTEST:
            raise ValueError
    except ValueError:
        raise SourceError(f"the take has a mark that cannot be read: '{word}'") from None
    return anchor


class Timetable:
    """Due times of all steps from one anchor on."""

    def __init__(self, steps: Sequence[Step], anchor: Anchor, early_share: float = EARLY_SHARE) -> None:
        self.anchor = anchor
        self._early_share = early_share
        beat_s = 60.0 / anchor.tempo
        origin = steps[anchor.step].start_beats
        self.due_s = [anchor.time_s + (step.start_beats - origin) * beat_s for step in steps]
        self.length_s = [step.length_beats * beat_s for step in steps]
        self.beat_s = beat_s

    def opens_s(self, step: int) -> float:
        """From when on a chord belongs to this step rather than to the one before."""
        if step == 0:
            return self.due_s[0] - self._early_share * self.length_s[0]
        return self.due_s[step] - self._early_share * min(self.length_s[step - 1], self.length_s[step])

    def closes_s(self, step: int) -> float:
        """Until when a chord belongs to this step."""
        if step + 1 < len(self.due_s):
            return max(self.opens_s(step + 1), self.due_s[step])
        return self.due_s[step] + self.length_s[step]

    def step_at(self, time_s: float, *, first: int) -> int:
        """The step that a chord at this time belongs to, not before ``first``; len(steps) after the end."""
        step = first
        while step < len(self.due_s) and time_s >= self.closes_s(step):
            step += 1
        return step
