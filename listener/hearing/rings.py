"""How long each note rang: its onset as the string was plucked, and when the pickup said that it had ended.

Only the newest :data:`MOST` notes are kept, or all where that is asked for: mostly it is about the chord that has just
been left. A note-off comes when the converter no longer hears the string, so an end is late rather than early, and may
be the string's own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from operator import attrgetter
from typing import Final, NamedTuple

from listener.hearing.events import NoteOn, Place
from listener.hearing.plucks import Plucks

#: Notes that are kept (our choice: a minute of dense strumming on one chord).
MOST: Final = 512
_ONSET: Final = attrgetter("onset_s", "pitch")


@dataclass(slots=True)
class Ringing:
    """A note as it arrived, and the time of its end, which is to come while it sounds."""

    note: NoteOn
    end_s: float = inf


class Ring(NamedTuple):
    """One note: MIDI pitch and velocity, its string (None where not told apart), seconds from pluck to end; ``end_s``
    is infinite while it sounds."""

    pitch: int
    velocity: int
    string: int | None
    onset_s: float
    end_s: float


class Rings:
    """Told by the gatherer of every note that begins, is corrected, or ends."""

    def __init__(self, plucks: Plucks, most: int | None = MOST) -> None:
        self._plucks = plucks
        self._kept: deque[Ringing] = deque(maxlen=most)
        self._newest: dict[Place, Ringing] = {}

    def begin(self, place: Place, note: NoteOn) -> None:
        """A string or pitch begins to sound."""
        self._newest[place] = ringing = Ringing(note)
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

    def taken(self, until_s: float) -> tuple[Ringing, ...]:
        """All that is kept; what had ended by this time is kept no longer."""
        taken = tuple(self._kept)
        self._kept = deque([one for one in taken if one.end_s >= until_s], maxlen=self._kept.maxlen)
        return taken

    def read(self, taken: Iterable[Ringing], until_s: float | None) -> list[Ring]:
        """Those that were plucked before a time (None: all of them), in the order of their plucks."""
        found = [
            Ring(one.note.pitch, one.note.velocity, one.note.string, self._plucks.onset_s(one.note), one.end_s)
            for one in taken
        ]
        return sorted((one for one in found if until_s is None or one.onset_s < until_s), key=_ONSET)
