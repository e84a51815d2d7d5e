"""From MIDI messages to notes that begin and end.

What comes out is well formed whatever goes in: on one string (or, where strings are not told apart, on one pitch) a
note-on is always followed by its own note-off before the next note-on.

Rules, where MIDI 1.0 leaves room:

- A note-on with velocity 0 is a note-off (MIDI 1.0).
- A channel that carries one string sounds one note: a new one ends the old one, and a note-off for a note that has
  gone already says nothing.
- A note-off ends its note however often the note was struck before: a note that rings for ever because a pickup
  sends two note-ons and one note-off would count as a held tone where there is none.
- All notes off (123), all sound off (120) and the mode changes (124 to 127, which imply all notes off) end the notes
  of their channel.
- The sustain pedal is left out of account: it is the synthesizer that sounds on, the string is damped all the same.
- Bends, other controllers and system messages are no notes.
"""

from __future__ import annotations

from typing import Final

from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn
from listener.hearing.pickup import Pickup

_NOTE_OFF: Final = 0x8
_NOTE_ON: Final = 0x9
_CONTROL: Final = 0xB
#: All sound off, all notes off, and omni off, omni on, mono, poly.
_SILENCERS: Final = frozenset({120, 123, 124, 125, 126, 127})


class NoteTracker:
    """Feed it messages in the order of their arrival, get the notes they begin and end."""

    def __init__(self, pickup: Pickup) -> None:
        self._floor = max(1, pickup.velocity_floor)
        self._string_on = {channel: pickup.string_on(channel) for channel in range(1, 17)}
        #: The pitch that each string sounds.
        self._on_string: dict[int, int] = {}
        #: Pitches without a string, with the channels that sound them.
        self._loose: dict[int, set[int]] = {}

    def feed(self, message: Message) -> list[NoteEvent]:
        """The notes that this message begins or ends, ends first; empty for everything else."""
        data = message.data
        if len(data) < 3 or data[1] > 127 or data[2] > 127:
            return []
        kind, channel = data[0] >> 4, (data[0] & 0x0F) + 1
        if kind == _NOTE_ON and data[2]:
            return self._begin(message.time_s, channel, data[1], data[2]) if data[2] >= self._floor else []
        if kind in (_NOTE_ON, _NOTE_OFF):
            return self._end(message.time_s, channel, data[1])
        if kind == _CONTROL and data[1] in _SILENCERS:
            return self._silence(message.time_s, channel)
        return []

    def _begin(self, time_s: float, channel: int, pitch: int, velocity: int) -> list[NoteEvent]:
        string = self._string_on[channel]
        events: list[NoteEvent] = []
        if string is not None:
            old = self._on_string.get(string)
            if old is not None:
                events.append(NoteOff(time_s, old, string))
            self._on_string[string] = pitch
        else:
            channels = self._loose.setdefault(pitch, set())
            if channels:
                events.append(NoteOff(time_s, pitch))
            channels.add(channel)
        events.append(NoteOn(time_s, pitch, velocity, string))
        return events

    def _end(self, time_s: float, channel: int, pitch: int) -> list[NoteEvent]:
        string = self._string_on[channel]
        if string is not None:
            if self._on_string.get(string) != pitch:
                return []
            del self._on_string[string]
            return [NoteOff(time_s, pitch, string)]
        channels = self._loose.get(pitch, set())
        if channel not in channels:
            return []
        channels.remove(channel)
        if channels:
            return []
        del self._loose[pitch]
        return [NoteOff(time_s, pitch)]

    def _silence(self, time_s: float, channel: int) -> list[NoteEvent]:
        string = self._string_on[channel]
        if string is not None:
            pitches = [self._on_string[string]] if string in self._on_string else []
        else:
            pitches = sorted(pitch for pitch, channels in self._loose.items() if channel in channels)
        return [event for pitch in pitches for event in self._end(time_s, channel, pitch)]
