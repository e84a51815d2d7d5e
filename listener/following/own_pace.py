"""How fast the player goes without a click: what the last chords took, beside what the drill has for them.

Where the same chord is due several times in a row nobody can say for certain which stroke was which step, so only the
time from one change of chord to the next is measured, for all the steps between them together.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from statistics import median_low
from typing import Final

#: The pace is the median of so many measurements, of at least so many steps; before that it is the drill's own tempo
#: (our choice).
_MEASURED: Final = 5
_LEAST_STEPS: Final = 2


class OwnPace:
    """Told when steps begin; knows the pace in thousandths of the drill's own time (2000 is half as fast)."""

    def __init__(self, chords: Sequence[object], lengths_ms: Sequence[int]) -> None:
        self._chords = chords
        self._lengths_ms = lengths_ms
        self._measured: deque[int] = deque(maxlen=_MEASURED)
        self._steps = 0
        self._changed: tuple[int, int] | None = None
        self._last: int | None = None

    @property
    def permille(self) -> int:
        """Of the time that the drill has for a step."""
        return median_low(self._measured) if self._steps >= _LEAST_STEPS else 1000

    def jump(self) -> None:
        """The next step does not follow the last one."""
        self._changed = self._last = None

    def begin(self, onset_ms: int, step: int) -> None:
        """A step begins."""
        if self._last is not None and step != self._last + 1:
            self.jump()
        if step == 0 or self._chords[step] != self._chords[step - 1]:
            if self._changed is not None:
                first, since_ms = self._changed
                took = sum(self._lengths_ms[first:step])
                if took:
                    self._measured.append(1000 * (onset_ms - since_ms) // took)
                    self._steps += step - first
            self._changed = (step, onset_ms)
        self._last = step
