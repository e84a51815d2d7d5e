"""When somebody was last at a chord of the drill, and not beside it.

Noodling is made of the same notes as the drill, so now and then a stroke of it looks like somebody at a step. Somebody
is there when at least half of what is played looks like that, two strokes or more, or when a chord was judged. Measured
on simulated people (tests/lab): while they practised it was so at nearly every moment; in 4,400 moments of noodling it
was so in one or two of a hundred.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from listener.hearing.gathering import OWN_PACE_S

#: How far one looks back, in seconds (our choice).
_WINDOW_S: Final = 8.0
#: One stroke says nothing (our choice).
_LEAST: Final = 2
#: More strokes than anybody plays in that time.
_KEPT: Final = 128


class Presence:
    """Told of every note, and of when the judge last found somebody at a step. Times are seconds of the take."""

    def __init__(self) -> None:
        #: When somebody was last at a chord; None when nobody was since the take began or went on.
        self.last_s: float | None = None
        self._strokes_s: deque[float] = deque(maxlen=_KEPT)
        self._at_s: deque[float] = deque(maxlen=_KEPT)
        self._note_s = float("-inf")

    def note(self, time_s: float) -> None:
        """A note began."""
        if time_s - self._note_s > OWN_PACE_S:
            self._strokes_s.append(time_s)
        self._note_s = time_s

    def found(self, at_s: float | None) -> None:
        """The judge says that somebody was at a step then, by what it knows now; None when nobody was."""
        if at_s is None:
            self.last_s = None
            self._at_s.clear()
        elif not self._at_s or at_s > self._at_s[-1]:
            self._at_s.append(at_s)
            # A pluck is dated before its note came, so the note itself is among those of the window.
            like_it = _since(self._at_s, at_s)
            if like_it >= _LEAST and 2 * like_it >= _since(self._strokes_s, at_s):
                self.judged(at_s)

    def judged(self, at_s: float) -> None:
        """A chord was judged that began then."""
        self.last_s = at_s if self.last_s is None else max(at_s, self.last_s)

    def anything(self, from_s: float, until_s: float) -> bool:
        """Whether anything was played in this time."""
        return any(from_s <= time_s <= until_s for time_s in self._strokes_s)


def _since(times_s: deque[float], now_s: float) -> int:
    return sum(time_s > now_s - _WINDOW_S for time_s in times_s)
