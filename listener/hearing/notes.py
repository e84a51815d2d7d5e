"""From MIDI messages to notes that begin and end.

What comes out is well formed whatever goes in: on one string (or, where strings are not told apart, on one pitch) a
note-on is always followed by its own note-off before the next note-on.

Rules, where MIDI 1.0 leaves room:

- A note-on with velocity 0 is a note-off (MIDI 1.0).
- A channel that carries one string sounds one note: a new one ends the old one, and a note-off for a note that has
  gone already says nothing.
- A note-off ends its note however often the note was struck before: a note that rings for ever because a pickup
  sends two note-ons and one note-off would count as a held tone where there is none.
- While the sustain pedal (64) is down, note-offs wait for it to come up. A new note on a string still ends the old one.
- All notes off (123) and the mode changes (124 to 127, which imply it) are note-offs for the notes of their channel,
  so the pedal holds them too (any MIDI 1.0 implementation chart); all sound off (120) waits for nothing. Reset all
  controllers (121) lets the pedal up and the bend go (RP-015, from memory).
- Bends, and what their range is (RPN 0), are those of :mod:`listener.hearing.bends`: a note that settles on another
  semitone ends there, and the other begins.
- In a zone (MPE), bend and pedal of the manager channel count for all members; RPN 6 on channel 1 or 16 opens or
  closes a zone in any profile; RPN 0 on one member counts for all of them (the last from memory).
- Other controllers and system messages are no notes.

Time matters for bends only. :meth:`NoteTracker.tick` makes known what the next message would have made known, so it
may be called as often as one likes, or never.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import Final

from listener.hearing.bends import (
    BEND_RANGE,
    CENTRE,
    MEMBER_RANGE,
    PARAMETER_CONTROLLERS,
    Parameters,
    Shift,
    cents,
)
from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn, on_grid
from listener.hearing.pickup import Pickup

_NOTE_OFF: Final = 0x80
_NOTE_ON: Final = 0x90
#: A note-on with velocity 0 is a note-off.
_NOTE_ENDS: Final = (_NOTE_OFF, _NOTE_ON)
_CONTROL: Final = 0xB0
_BEND: Final = 0xE0
_PEDAL: Final = 64
_ALL_SOUND_OFF: Final = 120
_RESET: Final = 121
#: All notes off, and omni off, omni on, mono, poly.
_NOTES_OFF: Final = frozenset({123, 124, 125, 126, 127})
_LOWER: Final = 1
_UPPER: Final = 16
_MANAGER_RANGE: Final = 2.0


@dataclass(slots=True)
class _Channel:
    """What one channel is doing. ``manager`` is the number of its zone's manager channel, 0 outside zones.

    ``voices`` are the notes that sound, as they were sent, each with the pitch that it sounds; ``velocities`` those of
    every note's last note-on; ``waiting`` the notes whose note-off waits for the pedal.
    """

    number: int
    string: int | None
    range_semitones: float
    manager: int = 0
    bend: int = CENTRE
    pedal: bool = False
    shift: Shift = field(default_factory=Shift)
    parameters: Parameters = field(default_factory=Parameters)
    voices: dict[int, int] = field(default_factory=dict)
    velocities: list[int] = field(default_factory=lambda: [0] * 128)
    waiting: set[int] = field(default_factory=set)

    @property
    def bent(self) -> float:
        """Its own bend in semitones."""
        return cents(self.bend, self.range_semitones) / 100


class NoteTracker:
    """Feed it messages in the order of their arrival, get the notes they begin and end."""

    def __init__(self, pickup: Pickup) -> None:
        self._floor = max(1, pickup.velocity_floor)
        self._range = float(pickup.bend_range_semitones)
        self._channels = [_Channel(number, pickup.string_on(number), self._range) for number in range(1, 17)]
        if pickup.manager is not None:
            for channel in self._channels:
                if channel.number in pickup.channels:
                    channel.manager = pickup.manager
            self._channels[pickup.manager - 1].range_semitones = _MANAGER_RANGE
        self._governs = self._by_manager()
        #: How many voices without a string sound each pitch.
        self._loose = [0] * 128
        #: When the next bent note will have settled.
        self._next_s = inf
        #: The ends of notes that only the pedal holds, as their keys came up; whoever reads it empties it.
        self.let_go: list[NoteOff] = []

    @property
    def due_s(self) -> float:
        """When :meth:`tick` will next have something to say; infinity when it has nothing."""
        return self._next_s

    @property
    def arriving_s(self) -> float:
        """Since when a bent note may be about to settle; infinity when none is."""
        if self._next_s == inf:
            return inf
        return min((c.shift.arrived_s for c in self._channels if c.shift.arrived_s is not None), default=inf)

    def feed(self, message: Message) -> list[NoteEvent]:
        """The notes that this message, and the time until then, begins or ends; ends first."""
        time_s, data = message.time_s, message.data
        events = self.tick(time_s) if time_s >= self._next_s else []
        if len(data) != 3:
            if len(data) < 3:
                return events
            data = data[:3]
        status, first, second = data
        if first > 127 or second > 127:
            return events
        kind, channel = status & 0xF0, self._channels[status & 0x0F]
        if kind == _NOTE_ON and second:
            if second >= self._floor:
                self._begin(events, time_s, channel, first, second)
        elif kind in _NOTE_ENDS:
            if first in channel.voices:
                self._release(events, time_s, channel, first)
        elif kind == _BEND:
            self._bend(time_s, channel, first | second << 7)
        elif kind == _CONTROL:
            self._control(events, time_s, channel, first, second)
        return events

    def tick(self, now_s: float) -> list[NoteEvent]:
        """Bent notes that have settled on another semitone by now."""
        events: list[NoteEvent] = []
        while self._next_s <= now_s and self._next_s != inf:
            due_s = self._next_s
            for channel in self._channels:
                if channel.shift.settles_s is not None and on_grid(channel.shift.settles_s) <= due_s:
                    arrived_s = channel.shift.arrived_s
                    channel.shift.settle()
                    self._move(events, due_s, channel, arrived_s)
            self._plan()
        return events

    # Notes ---------------------------------------------------------------------------------------------------

    def _begin(self, events: list[NoteEvent], time_s: float, channel: _Channel, note: int, velocity: int) -> None:
        voices = channel.voices
        if voices:
            for other in [note] if channel.string is None else list(voices):
                if other in voices:
                    self._end(events, time_s, channel, other)
        channel.shift.begin(time_s, not voices)
        if self._next_s != inf:
            self._plan()
        channel.velocities[note] = velocity
        pitch = voices[note] = _shifted(note, channel) if channel.shift.semitones else note
        self._sound(events, time_s, channel, pitch, velocity)

    def _release(self, events: list[NoteEvent], time_s: float, channel: _Channel, note: int) -> None:
        """The note-off of a note that sounds."""
        if channel.pedal or (channel.manager and self._pedalled(channel)):
            channel.waiting.add(note)
            self.let_go.append(NoteOff(time_s, channel.voices[note], channel.string))
        else:
            self._end(events, time_s, channel, note)

    def _end(self, events: list[NoteEvent], time_s: float, channel: _Channel, note: int) -> None:
        if channel.waiting:
            channel.waiting.discard(note)
        self._hush(events, time_s, channel, channel.voices.pop(note))

    def _sound(
        self,
        events: list[NoteEvent],
        time_s: float,
        channel: _Channel,
        pitch: int,
        velocity: int,
        arrived_s: float | None = None,
    ) -> None:
        if channel.string is None:
            if self._loose[pitch]:
                events.append(NoteOff(time_s, pitch, None))
            self._loose[pitch] += 1
        events.append(NoteOn(time_s, pitch, velocity, channel.string, None, None, arrived_s))

    def _hush(self, events: list[NoteEvent], time_s: float, channel: _Channel, pitch: int) -> None:
        if channel.string is None:
            self._loose[pitch] -= 1
            if self._loose[pitch]:
                return
        events.append(NoteOff(time_s, pitch, channel.string))

    def _move(self, events: list[NoteEvent], time_s: float, channel: _Channel, arrived_s: float | None) -> None:
        """The notes of a channel go to the semitone that it is bent to."""
        moved = [note for note, pitch in channel.voices.items() if _shifted(note, channel) != pitch]
        for note in moved:
            self._hush(events, time_s, channel, channel.voices[note])
        for note in moved:
            pitch = channel.voices[note] = _shifted(note, channel)
            self._sound(events, time_s, channel, pitch, channel.velocities[note], arrived_s)

    # Bends ---------------------------------------------------------------------------------------------------

    def _bend(self, time_s: float, channel: _Channel, value: int) -> None:
        channel.bend = value
        planned = False
        for each in self._governs[channel.number]:
            shift, before_s = each.shift, each.shift.settles_s
            bent = each.bent + (self._channels[each.manager - 1].bent if each.manager else 0.0)
            shift.bend(time_s, bent, sounding=bool(each.voices))
            planned = planned or shift.settles_s != before_s
        if planned:
            self._plan()

    def _plan(self) -> None:
        times = [c.shift.settles_s for c in self._channels if c.shift.settles_s is not None]
        self._next_s = on_grid(min(times)) if times else inf

    # Controllers ---------------------------------------------------------------------------------------------

    def _control(self, events: list[NoteEvent], time_s: float, channel: _Channel, controller: int, value: int) -> None:
        if controller in PARAMETER_CONTROLLERS:
            self._parameter(time_s, channel, channel.parameters.feed(controller, value))
        elif controller == _PEDAL:
            self._pedal(events, time_s, channel, value >= 64)
        elif controller == _RESET:
            channel.parameters.reset()
            self._pedal(events, time_s, channel, False)
            self._bend(time_s, channel, CENTRE)
        elif controller == _ALL_SOUND_OFF:
            for each in self._governs[channel.number]:
                for note in sorted(each.voices):
                    self._end(events, time_s, each, note)
        elif controller in _NOTES_OFF:
            for each in self._governs[channel.number]:
                for note in sorted(each.voices):
                    self._release(events, time_s, each, note)

    def _pedal(self, events: list[NoteEvent], time_s: float, channel: _Channel, down: bool) -> None:
        channel.pedal = down
        for each in self._governs[channel.number]:
            if not self._pedalled(each):
                for note in [note for note in each.voices if note in each.waiting] if each.waiting else ():
                    self._end(events, time_s, each, note)

    def _parameter(self, time_s: float, channel: _Channel, found: tuple[int, float] | None) -> None:
        if found is None:
            return
        parameter, value = found
        if parameter == BEND_RANGE:
            group = [c for c in self._channels if c.manager == channel.manager] if channel.manager else [channel]
            for each in group:
                each.range_semitones = value
            for each in group:
                self._bend(time_s, each, each.bend)
        elif channel.number in (_LOWER, _UPPER):
            self._zone(channel, int(value))

    def _zone(self, manager: _Channel, count: int) -> None:
        """A zone of so many members beside its manager; what was bent before stays so until the next bend."""
        first = _LOWER + 1 if manager.number == _LOWER else _UPPER - min(count, 15)
        members = range(first, first + min(count, 15))
        for channel in self._channels:
            if channel.number in members:
                channel.manager, channel.range_semitones = manager.number, MEMBER_RANGE
            elif channel.manager == manager.number:
                channel.manager, channel.range_semitones = 0, self._range
        manager.manager = 0
        manager.range_semitones = _MANAGER_RANGE if count else self._range
        self._governs = self._by_manager()

    # Zones ---------------------------------------------------------------------------------------------------

    def _by_manager(self) -> dict[int, list[_Channel]]:
        """The channels that a message on each one is for: itself, and its members if it manages a zone."""
        every = self._channels
        return {
            channel.number: [each for each in every if each is channel or each.manager == channel.number]
            for channel in every
        }

    def _pedalled(self, channel: _Channel) -> bool:
        return channel.pedal or (channel.manager != 0 and self._channels[channel.manager - 1].pedal)


def _shifted(note: int, channel: _Channel) -> int:
    semitones = channel.shift.semitones
    return min(127, max(0, note + semitones)) if semitones else note
