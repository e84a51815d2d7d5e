"""The click: when each beat falls, which are accented, and the MIDI notes that make it heard.

The sounds are keys of the General MIDI percussion map on channel 10: 76 High Wood Block for the first beat of a bar or,
softer, of a group within it, 77 Low Wood Block for the others (General MIDI Level 1; key numbers from memory).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil, floor
from typing import Final

ACCENT_KEY: Final = 76
BEAT_KEY: Final = 77
_PERCUSSION_ON: Final = 0x99
_PERCUSSION_OFF: Final = 0x89
#: How loud the first beat of a bar is, the first of a group within it, and the others (MIDI velocity; our choice).
_FIRST, _GROUP, _OTHER = 110, 96, 72
#: And what lies between two beats.
_BETWEEN: Final = 44
#: How uneven meters are counted, by beats in a bar (common practice; other groupings exist).
_GROUPS: Final = {5: (3, 2), 7: (2, 2, 3), 8: (3, 3, 2), 10: (3, 3, 2, 2), 11: (3, 3, 3, 2), 13: (3, 3, 3, 2, 2)}


def groups_of(meter: tuple[int, int]) -> tuple[int, ...]:
    """How the beats of a bar fall into groups, each of which begins with an accent.

    Compound meters (6, 9, 12, 15 eighths or sixteenths) go in threes, 5 as 3+2, 7 as 2+2+3, 4/4 and the like as one.

    >>> groups_of((6, 8)), groups_of((5, 4)), groups_of((7, 8)), groups_of((3, 4)), groups_of((4, 4))
    ((3, 3), (3, 2), (2, 2, 3), (3,), (4,))
    """
    beats, unit = meter
    if unit >= 8 and beats > 3 and beats % 3 == 0:
        return (3,) * (beats // 3)
    if beats in (8, 10) and unit < 8:
        return (beats,)
    return _GROUPS.get(beats, (beats,))


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat: ``bar`` and ``beat`` count from 1; in the count-in ``bar`` is 0 and ``beat`` counts up to the start.

    ``accent`` is the first beat of a bar, ``group`` the first of a group within it (:func:`groups_of`). ``between`` is
    no beat but a place of a pattern after this one.
    """

    time_s: float
    bar: int
    beat: int
    accent: bool
    count_in: bool
    group: bool = False
    between: bool = False

    def messages(self) -> tuple[bytes, bytes]:
        """Note-on and note-off for a MIDI output port."""
        key = ACCENT_KEY if self.accent or self.group else BEAT_KEY
        velocity = _BETWEEN if self.between else _FIRST if self.accent else _GROUP if self.group else _OTHER
        return bytes((_PERCUSSION_ON, key, velocity)), bytes((_PERCUSSION_OFF, key, 0))


class ClickTrack:
    """Beats from a count-in to the end of the drill.

    ``anchor_s`` is when ``first_beat`` (beats from the beginning of the drill) falls; ``count_in`` beats come before.
    ``between`` are softer clicks between beats (:func:`listener.session.take.places.between_beats`).
    """

    def __init__(
        self,
        *,
        anchor_s: float,
        tempo: float,
        meter: tuple[int, int],
        first_beat: float,
        count_in: int,
        end_beat: float,
        between: Sequence[float] = (),
    ) -> None:
        self._anchor_s = anchor_s
        self._beat_s = 60.0 / tempo
        self._per_bar = meter[0]
        self._group_starts = frozenset(accumulate(groups_of(meter)[:-1]))
        self._first = first_beat
        self._count_in = count_in
        # Clicks fall on whole beats of the drill; a passage may begin between two.
        self._offset = ceil(first_beat) - first_beat
        self._last = ceil(end_beat - first_beat - self._offset) - 1
        self._next = -count_in
        self._between = deque(place for place in between if first_beat <= place < end_beat)

    @property
    def next_s(self) -> float | None:
        """When the next click that :meth:`due` has not given yet falls; None after the end."""
        beat_s = self._time(self._next) if self._next <= self._last else None
        if not self._between:
            return beat_s
        between_s = self._time_of(self._between[0])
        return between_s if beat_s is None else min(beat_s, between_s)

    def due(self, now_s: float) -> list[Beat]:
        """Clicks up to now, each given once."""
        found = []
        while (next_s := self.next_s) is not None and next_s <= now_s:
            if self._next <= self._last and self._time(self._next) == next_s:
                found.append(self._beat(self._next))
                self._next += 1
            else:
                found.append(self._after_beat(self._between.popleft()))
        return found

    def beats_at(self, now_s: float) -> float | None:
        """How many beats of the drill have gone by; None in the count-in."""
        beats = self._first + (now_s - self._anchor_s) / self._beat_s
        return beats if beats >= self._first else None

    def at(self, now_s: float) -> Beat | None:
        """The beat that is sounding; None before the count-in."""
        index = floor((now_s - self._time(0)) / self._beat_s + 1e-9)
        return self._beat(min(index, self._last)) if index >= -self._count_in else self._before()

    def _before(self) -> Beat:
        return Beat(self._time(-self._count_in), 0, 0, False, True)

    def _time_of(self, beats: float) -> float:
        return self._anchor_s + (beats - self._first) * self._beat_s

    def _after_beat(self, beats: float) -> Beat:
        bar, beat = divmod(floor(beats), self._per_bar)
        return Beat(self._time_of(beats), bar + 1, beat + 1, False, False, between=True)

    def _time(self, index: int) -> float:
        return self._anchor_s + (self._offset + index) * self._beat_s

    def _beat(self, index: int) -> Beat:
        if index < 0:
            position = index % self._per_bar
            group = position in self._group_starts
            return Beat(self._time(index), 0, self._count_in + index + 1, position == 0, True, group)
        whole = ceil(self._first) + index
        bar, beat = divmod(whole, self._per_bar)
        return Beat(self._time(index), bar + 1, beat + 1, beat == 0, False, beat in self._group_starts)
