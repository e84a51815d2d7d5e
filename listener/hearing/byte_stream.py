"""Raw MIDI bytes to whole messages, for wires and for interfaces that do not do it themselves.

The rules are those of the MIDI 1.0 Detailed Specification (1995):

- A status byte may be left out when it is that of the message before (running status).
- Real-time bytes (F8 to FF) may fall anywhere, between the bytes of another message too, and change nothing there.
- System common messages (F0 to F7) cancel running status, so data bytes after them belong to nothing (the rule on
  cancelling is from memory). That also skips their own data, and system exclusive of any length.
- Data bytes without a status, and messages broken off by the next status byte, are left out.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

#: Bytes of a whole channel message by the upper half of its status byte.
LENGTHS: Final = {0x8: 3, 0x9: 3, 0xA: 3, 0xB: 3, 0xC: 2, 0xD: 2, 0xE: 3}
ACTIVE_SENSING: Final = 0xFE
SYSTEM_RESET: Final = 0xFF
_SYSTEM: Final = 0xF0
_REAL_TIME: Final = 0xF8


def is_whole(data: tuple[int, ...] | list[int]) -> bool:
    """One whole channel message, nothing missing and nothing after it."""
    return len(data) > 1 and LENGTHS.get(data[0] >> 4) == len(data) and max(data[1:]) < 0x80


class ByteStream:
    """Feed it bytes in pieces of any size. It never holds more than two of them."""

    def __init__(self) -> None:
        self._status = 0
        self._pending: list[int] = []

    def feed(self, data: Iterable[int]) -> list[tuple[int, ...]]:
        """The channel messages and real-time messages that these bytes complete, in order of their last byte."""
        found: list[tuple[int, ...]] = []
        for byte in data:
            if byte >= _REAL_TIME:
                found.append((byte,))
            elif byte >= _SYSTEM:
                self._status, self._pending = 0, []
            elif byte >= 0x80:
                self._status, self._pending = byte, []
            elif self._status:
                self._pending.append(byte)
                if len(self._pending) + 1 == LENGTHS[self._status >> 4]:
                    found.append((self._status, *self._pending))
                    self._pending = []
        return found
