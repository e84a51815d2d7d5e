"""An arpeggio in the making: notes of one step that come one after the other, and where the next one begins."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Final

from listener.hearing.events import Stroke

#: At own pace a complete arpeggio is settled when nothing came for so long (our choice: a slow beat).
_SILENCE_S: Final = 1.0
#: At own pace a note that only the next arpeggio has begins it, if this share of the time is over (our choice: later
#: than the fourth of four even notes).
_NEARLY_OVER: Final = 0.78
#: Of one note of an arpeggio: how early the next one may begin.
_EARLY_SHARE: Final = 0.5


@dataclass(slots=True)
class Roll:
    """What was played of one step so far. ``closes_s`` is the end of its time with the click, None at own pace."""

    step: int
    closes_s: float | None
    stroke: Stroke | None = None
    complete: bool = False

    def with_stroke(self, stroke: Stroke) -> Stroke:
        """All notes so far and these as one stroke. What rang before the first note of the arpeggio is held."""
        if self.stroke is None:
            return stroke
        return replace(stroke, struck=(*self.stroke.struck, *stroke.struck), held=self.stroke.held)

    @property
    def count(self) -> int:
        """How many different pitches were plucked."""
        return len(self.stroke.struck_pitches) if self.stroke is not None else 0

    def lacking(self, pitches: Sequence[int]) -> tuple[int, ...]:
        """Those of the pitches that were not plucked yet."""
        struck = self.stroke.struck_pitches if self.stroke is not None else ()
        return tuple(pitch for pitch in pitches if pitch not in struck)

    def over(self, now_s: float) -> bool:
        """Nothing more will belong to it."""
        if self.stroke is None:
            return False
        if self.closes_s is not None:
            return now_s >= self.closes_s
        return self.complete and now_s >= self.stroke.struck[-1].time_s + _SILENCE_S

    def next_begins(
        self, stroke: Stroke, here: Sequence[int], following: Sequence[int], passed_share: float | None
    ) -> bool:
        """At own pace: whether these notes begin the next chord.

        ``here`` and ``following`` are the pitches (MIDI) of this step and the next, ``passed_share`` how much of this
        step's time is over, None while no pace is known.
        """
        struck = set(stroke.struck_pitches)
        if self.over(stroke.onset_s):
            return True
        if struck <= set(self.lacking(here)):
            return False
        if passed_share is not None:
            return passed_share > (_NEARLY_OVER if struck <= set(following) else 1 - _EARLY_SHARE / len(here))
        if struck <= set(following):
            return True
        # One note too many may belong here; with another the player has gone on.
        return self.count > len(here) and not struck & set(here)


class OwnPace:
    """How long a beat takes where there is no click: the median of the last five steps."""

    def __init__(self) -> None:
        self._beats: deque[float] = deque(maxlen=5)
        self._began_s: float | None = None

    def jump(self) -> None:
        """The next step does not follow the last one."""
        self._began_s = None

    def begin(self, onset_s: float, beats_before: float | None) -> None:
        """A step begins; ``beats_before`` is the length of the one before, None for the first."""
        if self._began_s is not None and beats_before:
            self._beats.append((onset_s - self._began_s) / beats_before)
        self._began_s = onset_s

    def passed_share(self, time_s: float, beats: float) -> float | None:
        """How much of the step's time is over; None while fewer than two steps were measured."""
        if len(self._beats) < 2 or self._began_s is None:
            return None
        return (time_s - self._began_s) / (median(self._beats) * beats)
