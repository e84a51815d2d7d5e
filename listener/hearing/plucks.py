"""When the strings were plucked: a converter knows a low note later than a high one, the profile says by how much.

The delay is ``delay_periods`` of the note and ``lag_ms`` (:meth:`listener.hearing.pickup.Pickup.delay_s`). With it
taken off, six strings plucked at once have a spread of 0. A note that was slid to begins when its pitch arrived.
"""

from __future__ import annotations

from operator import attrgetter
from typing import Final

from listener.hearing.events import NoteOn, Stroke, on_grid
from listener.hearing.pickup import Pickup
from listener.music.pitch import frequency_hz

#: The open lowest string of a bass guitar, MIDI 28 (equal temperament): no lower note is waited for.
_LOW_HZ: Final = 41.2
_ONSET: Final = attrgetter("time_s")


class Plucks:
    """Takes the delay of one pickup off."""

    def __init__(self, pickup: Pickup) -> None:
        self._delays_s = [pickup.delay_s(frequency_hz(pitch)) for pitch in range(128)]
        self._prompt = not pickup.delay_periods and not pickup.lag_ms
        self._latest_s = max(0.0, pickup.delay_s(_LOW_HZ))

    def known_s(self, now_s: float) -> float:
        """Whatever arrives from now on was plucked at this time or later."""
        return on_grid(now_s - self._latest_s)

    def stroke(self, stroke: Stroke) -> Stroke:
        """The stroke with the onsets of its notes moved from when they arrived to when their strings were plucked."""
        if self._prompt and all(note.arrived_s is None for note in stroke.struck):
            return stroke
        struck = tuple(sorted(map(self.note, stroke.struck), key=_ONSET))
        held, gone = tuple(map(self.note, stroke.held)), tuple(map(self.note, stroke.gone))
        return Stroke(struck, held, stroke.settled, stroke.closed_s, gone, stroke.rang)

    def note(self, note: NoteOn) -> NoteOn:
        """The note with the time at which its string was plucked."""
        return note._replace(time_s=self.onset_s(note))

    def onset_s(self, note: NoteOn) -> float:
        """When its string was plucked."""
        return max(0.0, on_grid(note.began_s - self._delays_s[note.pitch]))
