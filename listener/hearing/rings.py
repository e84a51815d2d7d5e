"""How long each note rang: its onset as the string was plucked, and when the pickup said that it had ended.

Only the newest :data:`MOST` notes are kept: whoever asks, asks about the chord that has just been left. A note-off
comes when the converter no longer hears the string, so an end is late rather than early, and may be the string's own.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import inf
from typing import Final

from listener.hearing.events import NoteOn, Place
from listener.hearing.plucks import Plucks

#: Notes that are kept (our choice: a minute of dense strumming on one chord).
MOST: Final = 512


@dataclass(slots=True)
class _Ringing:
    """A note as it arrived, and the time of its end."""

    note: NoteOn
    end_s: float = inf


@dataclass(frozen=True, slots=True)
class Ring:
    """One note: MIDI pitch and velocity, its string (None where not told apart), seconds from pluck to end; ``end_s``
    is infinite while it sounds."""

    pitch: int
    velocity: int
    string: int | None
    onset_s: float
    end_s: float


class Rings:
    """Told by the gatherer of every note that begins, is corrected, or ends."""

    def __init__(self, plucks: Plucks) -> None:
        self._plucks = plucks
        self._kept: deque[_Ringing] = deque(maxlen=MOST)
        self._newest: dict[Place, _Ringing] = {}

    def begin(self, place: Place, note: NoteOn) -> None:
        """A string or pitch begins to sound."""
        self._newest[place] = ringing = _Ringing(note)
        self._kept.append(ringing)

    def correct(self, place: Place, note: NoteOn, mistaken: Place | None = None) -> None:
        """The newest note there (or at the place that it was mistaken for) is this one, and goes on."""
        ringing = self._newest.pop(place if mistaken is None else mistaken, None)
        if ringing is not None:
            ringing.note, ringing.end_s = note, inf
            self._newest[place] = ringing

    def end(self, place: Place, time_s: float) -> None:
        """The newest note there ended."""
        if place in self._newest:
            self._newest[place].end_s = time_s

    def until(self, time_s: float) -> list[Ring]:
        """Those plucked before this time, in the order of their plucks."""
        found = [self._ring(one) for one in self._kept]
        return sorted((one for one in found if one.onset_s < time_s), key=lambda one: (one.onset_s, one.pitch))

    def forget(self, before_s: float) -> None:
        """What had ended by this time is not asked for any more."""
        if any(one.end_s < before_s for one in self._kept):
            self._kept = deque((one for one in self._kept if one.end_s >= before_s), maxlen=MOST)

    def _ring(self, one: _Ringing) -> Ring:
        note = one.note
        return Ring(note.pitch, note.velocity, note.string, self._plucks.note(note).time_s, one.end_s)
