"""While the click has stopped because nobody was playing: listens for a chord with which somebody comes back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from listener.hearing.ears import Ears
from listener.hearing.events import Message, Stroke
from listener.hearing.pickup import Pickup
from listener.judging.strictness import StepTarget
from listener.judging.verdict import HIT, NEAR


class Waker:
    """Hears every message from the pause on. ``targets`` are the steps that the take may go on with, the likeliest
    first, each with what is right there."""

    def __init__(self, pickup: Pickup, targets: Sequence[tuple[int, StepTarget]]) -> None:
        self._ears = Ears(pickup)
        self._targets = tuple(targets)

    def feed(self, message: Message) -> int | None:
        """The step that was just played, right or nearly; None as long as there is none."""
        return self._woken_by(self._ears.feed(message))

    def tick(self, now_s: float) -> int | None:
        """The same when only time has passed."""
        return self._woken_by(self._ears.tick(now_s))

    def _woken_by(self, strokes: Iterable[Stroke]) -> int | None:
        for stroke in strokes:
            grades = [(target.grade(stroke), step) for step, target in self._targets]
            for wanted in (HIT, NEAR):
                found = next((step for grade, step in grades if grade == wanted), None)
                if found is not None:
                    return found
        return None
