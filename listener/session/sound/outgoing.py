"""Notes that the program itself plays, with their ends: what was begun is always ended, whatever happens between.

Pure: times go in as data, bytes for a MIDI output come out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import Final

_ON: Final = 0x90
_OFF: Final = 0x80


@dataclass(frozen=True, slots=True)
class Note:
    """A note to be played: MIDI channel from 1, pitch, velocity, begin and end in seconds."""

    channel: int
    pitch: int
    velocity: int
    on_s: float
    off_s: float

    def messages(self) -> tuple[bytes, bytes]:
        """Note-on and note-off."""
        channel = self.channel - 1
        return bytes((_ON | channel, self.pitch, self.velocity)), bytes((_OFF | channel, self.pitch, 0))


class Outgoing:
    """Notes in; bytes out when they are due. :meth:`silence` ends at once everything that sounds and forgets the rest.

    At one moment ends come before beginnings, so that a note struck again is not cut off by its own end.
    """

    def __init__(self) -> None:
        self._waiting: list[tuple[float, int, int, Note]] = []
        self._count = 0
        self._sounding: dict[tuple[int, int], int] = {}

    def add(self, notes: Iterable[Note]) -> None:
        """Play these when they are due."""
        for note in notes:
            self._push(note.on_s, 1, note)

    def due(self, now_s: float) -> list[bytes]:
        """What has to be sent up to now, in order."""
        found: list[bytes] = []
        while self._waiting and self._waiting[0][0] <= now_s:
            _, begins, _, note = heappop(self._waiting)
            key, (on, off) = (note.channel, note.pitch), note.messages()
            if begins:
                self._sounding[key] = self._sounding.get(key, 0) + 1
                self._push(max(note.on_s, note.off_s), 0, note)
                found.append(on)
            elif self._sounding.get(key):
                self._sounding[key] -= 1
                if not self._sounding[key]:
                    del self._sounding[key]
                    found.append(off)
        return found

    def silence(self) -> list[bytes]:
        """The ends of all that sounds; nothing is waiting any more."""
        offs = [Note(channel, pitch, 0, 0.0, 0.0).messages()[1] for channel, pitch in self._sounding]
        self._waiting.clear()
        self._sounding.clear()
        return offs

    @property
    def next_s(self) -> float | None:
        """When the next message is due; None when there is none."""
        return self._waiting[0][0] if self._waiting else None

    def _push(self, time_s: float, begins: int, note: Note) -> None:
        self._count += 1
        heappush(self._waiting, (time_s, begins, self._count, note))
