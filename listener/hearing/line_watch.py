"""A line that falls silent: no note may ring for ever because its end never came.

Active sensing (MIDI 1.0): who has sent FE once promises to send something every 300 ms; when nothing comes for longer,
the receiver turns all voices off and stops watching. Without an FE there is no such promise and no time-out. The
tolerance is a tenth, so the limit here is 330 ms. System reset (FF) turns all voices off as well.

Silence is given out as messages (all sound off on every channel that had a note), so that it is
kept in the take and a replay hears it too.
"""

from __future__ import annotations

from typing import Final

from listener.hearing.byte_stream import ACTIVE_SENSING, SYSTEM_RESET
from listener.hearing.events import Message

#: 300 ms and its tolerance of a tenth.
TIME_OUT_S: Final = 0.330
_CHANNELS: Final = 16
_ALL_SOUND_OFF: Final = 120


class LineWatch:
    """Messages pass through; system messages end here."""

    def __init__(self) -> None:
        self._used = [False] * _CHANNELS
        self._last_s: float | None = None
        #: Whether the sender has promised to send something every 300 ms.
        self.watching = False

    def feed(self, message: Message) -> list[Message]:
        """The message itself, or what it means for the voices."""
        self._last_s = message.time_s
        status = message.data[0] if message.data else 0
        if 0x80 <= status < 0xF0:
            if status >> 4 == 0x9:
                self._used[status & 0x0F] = True
            return [message]
        if status == ACTIVE_SENSING:
            self.watching = True
        elif status == SYSTEM_RESET:
            return self.silence(message.time_s)
        return []

    def tick(self, now_s: float) -> list[Message]:
        """Time has passed: silence, once, when the sender has broken its promise."""
        if not self.watching or self._last_s is None or now_s - self._last_s <= TIME_OUT_S:
            return []
        self.watching = False
        return self.silence(now_s)

    def silence(self, now_s: float) -> list[Message]:
        """Everything that may be sounding ends."""
        used = [channel for channel in range(_CHANNELS) if self._used[channel]]
        self._used = [False] * _CHANNELS
        return [Message(now_s, (0xB0 | channel, _ALL_SOUND_OFF, 0)) for channel in used]
