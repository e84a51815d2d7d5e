"""What is said of a step when the player has left it, besides its verdicts.

Here are the notes of a tune played above a chord that was right and rings: no attempt at anything, but worth saying.
What became of a pattern is :mod:`listener.judging.pattern.pattern`'s, what of the touch that a drill asks for
:mod:`listener.judging.touch.words`'.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from listener.hearing.events import Stroke
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.strictness import StepTarget
from listener.judging.touch.words import TouchVerdict


@dataclass(frozen=True, slots=True)
class Fill:
    """Names of the notes, in the order in which they were played."""

    notes: tuple[str, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """To players.

        >>> Fill(("G4", "A4")).words
        ('over it you played G4 A4',)
        """
        return (f"over it you played {' '.join(self.notes)}",)

    def as_json(self) -> dict[str, object]:
        """All of it."""
        return {"notes": list(self.notes)}


#: The index of a step that was left, and what was played over it, or became of its pattern or its touch.
Aside = tuple[int, Fill | PatternVerdict | TouchVerdict]


def fill_over(target: StepTarget, strokes: Iterable[Stroke]) -> Fill | None:
    """What of these strokes lay above the chord; None when nothing did."""
    top = target.pitches[-1]
    names = tuple(target.name(pitch) for stroke in strokes for pitch in stroke.struck_pitches if pitch > top)
    return Fill(names) if names else None
