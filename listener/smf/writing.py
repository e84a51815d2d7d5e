"""Standard MIDI Files, written: variable-length quantities, chunks and the few meta events that we need.

Source: Standard MIDI Files 1.1 (MIDI Manufacturers Association).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

#: The largest variable-length quantity.
MAX_VLQ: Final = 0x0FFF_FFFF
#: Types of meta events.
META_TEXT: Final = 0x01
META_NAME: Final = 0x03
META_MARKER: Final = 0x06
META_END: Final = 0x2F
META_TEMPO: Final = 0x51
META_METER: Final = 0x58
META_KEY: Final = 0x59
META_SPECIFIC: Final = 0x7F


def vlq(value: int) -> bytes:
    """A variable-length quantity: seven bits a byte, highest first, the top bit set on all bytes but the last.

    >>> vlq(480).hex(" ")
    '83 60'
    """
    if not 0 <= value <= MAX_VLQ:
        raise ValueError(f"{value} does not fit a variable-length quantity (0 to {MAX_VLQ})")
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(value & 0x7F | 0x80)
    return bytes(reversed(out))


def write_track(events: Iterable[tuple[int, bytes]]) -> bytes:
    """A track chunk from rising (tick, event bytes), with an end of track after the last.

    A silence that is too long for one delta time is bridged by empty text events.
    """
    body = bytearray()
    last = 0
    for tick, event in events:
        while tick - last > MAX_VLQ:
            body += vlq(MAX_VLQ) + bytes((0xFF, META_TEXT, 0))
            last += MAX_VLQ
        body += vlq(tick - last) + event
        last = tick
    body += bytes((0, 0xFF, META_END, 0))
    return b"MTrk" + len(body).to_bytes(4) + bytes(body)


def header_chunk(form: int, track_count: int, division: int) -> bytes:
    """The header of a file with ticks per quarter note."""
    return b"MThd" + (6).to_bytes(4) + b"".join(part.to_bytes(2) for part in (form, track_count, division))


def meta_event(kind: int, payload: bytes) -> bytes:
    """A meta event's bytes, without its delta time."""
    return bytes((0xFF, kind)) + vlq(len(payload)) + payload


def tempo_event(tempo_us: int) -> bytes:
    """A tempo in microseconds per quarter note (at most 16,777,215)."""
    return meta_event(META_TEMPO, tempo_us.to_bytes(3))
