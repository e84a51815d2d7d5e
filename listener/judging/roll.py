"""An arpeggio with the click in the making: notes of one step that come one after the other, until its time is over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from listener.hearing.events import Stroke


@dataclass(slots=True)
class Roll:
    """What was played of one step so far. ``closes_s`` is the end of its time."""

    step: int
    closes_s: float
    stroke: Stroke | None = None
    complete: bool = False

    def with_stroke(self, stroke: Stroke) -> Stroke:
        """All notes so far and these as one stroke. What rang before the first note of the arpeggio is held."""
        if self.stroke is None:
            return stroke
        return replace(stroke, struck=(*self.stroke.struck, *stroke.struck), held=self.stroke.held)

    def lacking(self, pitches: Sequence[int]) -> tuple[int, ...]:
        """Those of the pitches that were not plucked yet."""
        struck = self.stroke.struck_pitches if self.stroke is not None else ()
        return tuple(pitch for pitch in pitches if pitch not in struck)

    def over(self, now_s: float) -> bool:
        """Nothing more will belong to it."""
        return self.stroke is not None and now_s >= self.closes_s
