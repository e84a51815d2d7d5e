"""Where the player is without a click: how long a beat takes, and so whether a chord comes too soon to be the next one.

Where the same chord is due several times in a row nobody can say for certain which stroke was which step, so only the
time from one change of chord to the next is measured, for all the steps between them together.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from statistics import median
from typing import Final

from listener.hearing.events import Stroke
from listener.judging.ledger import Ledger
from listener.judging.verdict import HIT, MISS
from listener.planning.plan import Plan

#: A chord that comes sooner than this share of the time that the player takes for a step is the last one again, where
#: it could also be a poor attempt at the next (our choice: half-way, and a margin).
_SOON_SHARE: Final = 0.75
#: A beat is the median of so many measurements, of at least so many steps.
_MEASURED: Final = 5
_LEAST_STEPS: Final = 2


class OwnPace:
    """Told when steps begin; asked how a chord stands to the one before."""

    def __init__(self, plan: Plan, ledger: Ledger) -> None:
        self._ledger = ledger
        self._beats = [planned.step.length_beats for planned in plan.steps]
        self._in_a_row = _in_a_row([target.pitches for target in ledger.targets])
        #: The drill's own tempo, as long as nothing was measured.
        self._guess_s = plan.drill.seconds_per_beat
        self._measured_s: deque[float] = deque(maxlen=_MEASURED)
        self._steps = 0
        self._began_s: float | None = None
        self._changed_s: float | None = None

    def jump(self) -> None:
        """The next step does not follow the last one."""
        self._began_s = self._changed_s = None

    def begin(self, onset_s: float, step: int) -> None:
        """A step begins; how long the ones before took is only known if they were not all wrong."""
        if not self._in_a_row[step]:
            first = step - 1 - self._in_a_row[step - 1] if step else 0
            right = any(before in self._ledger.solved for before in range(first, step))
            if self._changed_s is not None and first in self._ledger.attempts and right:
                self._measured_s.append((onset_s - self._changed_s) / sum(self._beats[first:step]))
                self._steps += step - first
            self._changed_s = onset_s
        self._began_s = onset_s

    def soon(self, onset_s: float, step: int) -> bool | None:
        """Whether a chord comes sooner than this step would at the player's pace; None while none is known.

        Where the same chord is due again, the drill's own tempo is the first guess at it: without a click most players
        are slower, and what they take longer for is no repeat.
        """
        if self._began_s is None:
            return None
        if self._steps >= _LEAST_STEPS:
            beat_s = median(self._measured_s)
        elif self._in_a_row[step]:
            beat_s = self._guess_s
        else:
            return None
        return onset_s - self._began_s < _SOON_SHARE * beat_s * self._beats[step - 1]

    def repeats(self, stroke: Stroke, step: int, grade: str) -> bool:
        """The chord before once more, right or wrong: sooner than the next one would come at the pace that the player
        keeps, or not at all like it. ``grade`` is what the stroke would be worth for this step."""
        soon = self.soon(stroke.onset_s, step)
        if grade == HIT:
            return soon is True and self._ledger.is_same_again(stroke, step)
        if self._ledger.is_same_again(stroke, step):
            # After the same chord several times it is likelier that somebody has miscounted.
            miscounted = self._in_a_row[step - 1] > 0 and not self._in_a_row[step] and step - 1 in self._ledger.solved
            return grade == MISS or soon is not False or miscounted
        return soon is True and self._ledger.is_nearer_to_last(stroke, step)


def _in_a_row(chords: Sequence[tuple[int, ...]]) -> list[int]:
    """For each step, how many before it have the same chord without a break.

    >>> _in_a_row([(48,), (48,), (50,)])
    [0, 1, 0]
    """
    found: list[int] = []
    for step, chord in enumerate(chords):
        found.append(found[-1] + 1 if step and chords[step - 1] == chord else 0)
    return found
