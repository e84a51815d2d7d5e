"""What passes between the stages of hearing. Times are seconds from the start of the take.

Times lie on the grid of the take file (:func:`on_grid`), so that a take that is written and read again carries
the very same numbers, and so the very same verdicts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple, Protocol


class Message(NamedTuple):
    """One MIDI message as its bytes, status first, with the time of its arrival."""

    time_s: float
    data: tuple[int, ...]

    @property
    def begins_note(self) -> bool:
        """A note-on, and not one that ends its note."""
        return self.data[0] & 0xF0 == 0x90 and len(self.data) > 2 and self.data[2] > 0


class NoteOn(NamedTuple):
    """A string began to sound. ``string`` is None where the pickup does not tell strings apart.

    ``sure_s`` is when it was certain that this is a note and no error of the pickup, where that was later than its
    onset. ``instead_of`` is the pitch that the pickup had sent for it at first, where strings are not told apart.
    ``arrived_s`` is when a string that was slid, hammered or bent to this pitch got there; ``time_s`` is later then,
    when it had stayed for long enough to be a note.
    """

    time_s: float
    pitch: int
    velocity: int
    string: int | None = None
    sure_s: float | None = None
    instead_of: int | None = None
    arrived_s: float | None = None

    @property
    def began_s(self) -> float:
        """Its onset, or when its pitch arrived."""
        return self.time_s if self.arrived_s is None else min(self.time_s, self.arrived_s)


class NoteOff(NamedTuple):
    """A note ended. ``pitch`` and ``string`` are those of the note-on that it ends.

    It has another number of fields than :class:`NoteOn` and :class:`Message`, so it is never equal to one of them.
    """

    time_s: float
    pitch: int
    string: int | None = None


NoteEvent = NoteOn | NoteOff

#: What can sound one note at a time: a pitch where strings are not told apart, else a string, as a negative number.
Place = int


class Pitched(Protocol):
    """What has a pitch (MIDI), and a string where strings are told apart."""

    @property
    def pitch(self) -> int: ...

    @property
    def string(self) -> int | None: ...


def place_of(note: Pitched) -> Place:
    """Where it sounds."""
    return note.pitch if note.string is None else -note.string


def low_to_high(note: Pitched) -> tuple[int, int]:
    """What notes are sorted by from the lowest pitch up: of equal ones that on the lower string comes first, as
    everywhere."""
    return note.pitch, -(note.string or 0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """Notes played as one chord. ``struck`` are the notes plucked in it, in order of onset; ``held`` the notes that
    already sounded and still do; ``gone`` those of the struck notes that have ended already;
    ``rang`` the pitches that sounded when its first string was plucked.

    A stroke that is not ``settled`` may still grow and be corrected, and is given out only to those who asked for it;
    ``closed_s`` is when it was like that. Only settled strokes count.
    """

    struck: tuple[NoteOn, ...]
    held: tuple[NoteOn, ...]
    settled: bool
    closed_s: float
    gone: tuple[NoteOn, ...] = ()
    rang: tuple[int, ...] = ()

    @property
    def onset_s(self) -> float:
        """Time of the first note."""
        return self.struck[0].time_s

    @property
    def spread_ms(self) -> float:
        """First to last onset."""
        return round(1000 * (self.struck[-1].time_s - self.struck[0].time_s), 3)

    @property
    def struck_pitches(self) -> tuple[int, ...]:
        """Different pitches that were plucked, low to high."""
        return tuple(sorted({note.pitch for note in self.struck}))

    @property
    def held_pitches(self) -> tuple[int, ...]:
        """Different pitches that only rang on, low to high."""
        return tuple(sorted({note.pitch for note in self.held} - {note.pitch for note in self.struck}))


#: The grid of every take: one tick is 40 microseconds (a MIDI byte on a wire lasts 320).
TICK_US: Final = 40


def on_grid(time_s: float) -> float:
    """The nearest time on the take's grid; the same float however it was reached.

    >>> on_grid(1.0000123)
    1.0
    """
    return seconds(ticks(time_s))


def ticks(time_s: float) -> int:
    """Grid ticks since the start of the take."""
    return round(time_s * 1_000_000 / TICK_US)


def seconds(tick: float) -> float:
    """The time of a tick of the grid."""
    return tick * TICK_US / 1_000_000
