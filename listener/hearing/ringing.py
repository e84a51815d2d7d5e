"""How long the notes of strokes ring: a stroke says when they were plucked, the notes that passed when they ended."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from listener.hearing.events import NoteEvent, NoteOff, NoteOn, Place, Stroke, place_of
from listener.hearing.gathering import RETRIGGER_S
from listener.hearing.pickup import Pickup
from listener.music.pitch import frequency_hz


@dataclass(slots=True)
class Rung:
    """A note that was struck: when it began, in seconds at the string, and when it stopped sounding (infinity where it
    still does)."""

    place: Place
    pitch: int
    string: int | None
    on_s: float
    off_s: float

    @property
    def key(self) -> tuple[Place, int]:
        """Where it sounds, and what."""
        return self.place, self.pitch


def with_ends(strokes: Sequence[Stroke], events: Sequence[NoteEvent], pickup: Pickup) -> list[list[Rung]]:
    """The notes of settled strokes with their ends, which the cleaned notes say that passed
    (:meth:`listener.hearing.ears.Ears.notes`)."""
    spans = _spans(events)
    found = []
    for stroke in strokes:
        notes = []
        for note in stroke.struck:
            place = place_of(note)
            arrived_s = note.time_s + pickup.delay_s(frequency_hz(note.pitch))
            begun, ended = spans[place]
            # The beginning nearest to when it arrived; its end is that of the last double trigger in it.
            at = max(0, bisect_right(begun, arrived_s + RETRIGGER_S) - 1)
            while at and abs(begun[at - 1] - arrived_s) < abs(begun[at] - arrived_s):
                at -= 1
            off_s = ended[at] if begun else inf
            notes.append(Rung(place, note.pitch, note.string, note.time_s, off_s))
        found.append(notes)
    return found


def _spans(events: Sequence[NoteEvent]) -> dict[Place, tuple[list[float], list[float]]]:
    """When something began and stopped sounding in each place; a double trigger goes on with what it repeats."""
    found: dict[Place, tuple[list[float], list[float]]] = defaultdict(lambda: ([], []))
    for event in sorted(events, key=lambda one: (one.time_s, not isinstance(one, NoteOff))):
        begun, ended = found[place_of(event)]
        if isinstance(event, NoteOn):
            if begun and event.time_s - begun[-1] < RETRIGGER_S:
                ended[-1] = inf
            else:
                begun.append(event.time_s)
                ended.append(inf)
        elif begun and ended[-1] == inf:
            ended[-1] = event.time_s
    return found
