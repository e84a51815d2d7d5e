"""A take as a Standard MIDI File: what arrived, when, and what the player did with the keys.

The file is of format 0. Its division and tempo are chosen so that a tick lasts exactly 40 microseconds, the grid of
:mod:`listener.hearing.events`: what is read back is what was written, to the last bit. A quarter note of the file is a
beat of the drill, so any sequencer shows the right tempo (to 20 microseconds a beat); below 46 beats a minute, where
the division would not fit its 15 bits, it is a half, a quarter and so on of the beat, and the header has the tempo.

The header is one text meta event at the start, a JSON object::

    {"take_format": 1, "drill": "spread-triads", "pace": "click", "tempo": 72.0, "first_beat_s": 3.3,
     "pickup": "per-string", "tuning": "standard", "capo": 0, "hand": "medium", "made_by": "widehand 0.1.0",
     "started": "2031-05-01T18:30:00+02:00"}

After it comes the take's record, what the history knows about it (:mod:`listener.history.safekeeping.take_record`),
packed, as a meta event for programs' own use (type 127, manufacturer 7D: not for sale, then ``WdHd``). Other programs
pass over it.

Marks (``again``, ``next``, ``pause``, ``resume``, ``step 4``) are marker meta events. A take holds channel messages;
system messages are not kept, since nothing listens to them.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from functools import cached_property
from typing import Any, Final, Protocol

from listener.errors import SourceError
from listener.hearing.events import TICK_US, Message, on_grid, ticks
from listener.hearing.header_fields import checked_fields
from listener.records import is_whole
from listener.smf.flow import flow
from listener.smf.reading import DEFAULT_TEMPO_US
from listener.smf.survey import Survey, survey
from listener.smf.writing import (
    META_MARKER,
    META_SPECIFIC,
    META_TEXT,
    header_chunk,
    meta_event,
    tempo_event,
    write_track,
)

#: Six strings that each bend a hundred times a second come to 8.6 MB an hour (by calculation); these are some hours.
LARGEST_BYTES: Final = 32 << 20
#: The newest header that this program writes and reads.
TAKE_FORMAT: Final = 1
_FORMAT_FIELD: Final = "take_format"
_MAX_DIVISION: Final = 0x7FFF
CLICK: Final = "click"
OWN_PACE: Final = "own pace"
#: Channel 10 on the wire.
_PERCUSSION: Final = 9
_OURS: Final = b"\x7dWdHd"
#: Bytes of a record, unpacked: far above what a take of a day comes to.
_LONGEST_RECORD: Final = 32_000_000


@dataclass(frozen=True)
class TakeHeader:
    """What has to be known to judge the take again.

    ``pace`` is :data:`CLICK` or :data:`OWN_PACE`; ``tempo`` in beats a minute (at own pace that of the drill);
    ``first_beat_s`` when step 0 was due, None without a click; ``register`` and ``high_open`` are the player's taste in
    chords (:class:`listener.drill.manners.Taste`); ``started`` an ISO 8601 date and time or empty; ``meter`` is as
    in "6/8", empty where there were no bars.
    """

    drill: str
    pace: str
    tempo: float
    first_beat_s: float | None
    pickup: str
    tuning: str = "standard"
    capo: int = 0
    hand: str = "medium"
    frets: int = 22
    scale_mm: float = 648.0
    left_handed: bool = False
    register: int = 0
    high_open: bool = True
    made_by: str = ""
    started: str = ""
    meter: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened in a take besides notes, in a word or two."""

    time_s: float
    word: str


@dataclass(frozen=True)
class Take:
    """A take, or any MIDI file read as one: then ``header`` is None and ``marks`` are its markers.

    Times are seconds from the start, never falling, on the grid of 40 microseconds. ``record`` is what the history
    knows about it, JSON that is passed on as it is; it makes no other take of it.
    """

    messages: tuple[Message, ...]
    marks: tuple[Mark, ...] = ()
    header: TakeHeader | None = None
    record: bytes = field(default=b"", compare=False)


class TakeStream:
    """A take that is read while it is listened to: a file of any length needs little memory.

    It has what a :class:`Take` has, but its messages are read anew whenever they are asked for.
    """

    def __init__(self, file: Survey, header: TakeHeader | None, *, with_marks: bool = True) -> None:
        self._file = file
        self._with_marks = with_marks
        self.header = header

    def without_marks(self) -> TakeStream:
        """The same messages alone."""
        return TakeStream(self._file, self.header, with_marks=False)

    @property
    def record(self) -> bytes:
        """What the history knew about the take; empty when there is none, or when it is damaged."""
        packed = next((text for text in self._file.specifics if text.startswith(_OURS)), None)
        return b"" if packed is None else _unpacked(packed[len(_OURS) :])

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """They are few, so they are known beforehand."""
        return tuple(_marks(self._file)) if self._with_marks and META_MARKER in self._file.metas else ()

    @property
    def messages(self) -> Iterator[Message]:
        """All messages, from the first on; in the order of their bytes if this program wrote the file. Of a file from
        elsewhere those of channel 10 are left out."""
        if self.header is not None:
            yield from self._all(as_written=self._file.format == 0)
        else:
            yield from (message for message in self._all(as_written=False) if not _drums(message))

    @property
    def has_drums(self) -> bool:
        """Whether anything was left out."""
        return self.header is None and any(map(_drums, self._all(as_written=False)))

    def _all(self, *, as_written: bool) -> Iterator[Message]:
        for block in flow(self._file, as_written=as_written):
            yield from map(Message, map(on_grid, block.times_s), block.messages)


def _drums(message: Message) -> bool:
    """Percussion, by General MIDI Level 1: channel 10."""
    return message.data[0] < 0xF0 and message.data[0] & 0x0F == _PERCUSSION


class AnyTake(Protocol):
    """What can be listened to: a :class:`Take` or a :class:`TakeStream`."""

    @property
    def messages(self) -> Iterable[Message]:
        """In order of time."""
        ...

    @property
    def marks(self) -> tuple[Mark, ...]:
        """In order of time."""
        ...

    @property
    def header(self) -> TakeHeader | None:
        """What has to be known to judge it."""
        ...


def take_bytes(take: Take) -> bytes:
    """The file. Times are put on the grid and in order, those before the start at the start."""
    tempo_us, division = _tempo_and_division(take.header.tempo if take.header else 0.0)
    events = [(0, tempo_event(tempo_us))]
    if take.header is not None:
        events.append((0, meta_event(META_TEXT, _header_json(take.header))))
    if take.record:
        events.append((0, meta_event(META_SPECIFIC, _OURS + zlib.compress(take.record))))
    marks = [(_tick(mark.time_s), meta_event(META_MARKER, mark.word.encode())) for mark in take.marks]
    heard = [
        (_tick(message.time_s), bytes(message.data))
        for message in take.messages
        if message.data and 0x80 <= message.data[0] < 0xF0
    ]
    events.extend(sorted(marks + heard, key=lambda event: event[0]))
    return header_chunk(0, 1, division) + write_track(events)


def read_take(data: bytes, name: str) -> Take:
    """A take, or any Standard MIDI File of format 0 or 1, as a whole; see :func:`open_take`."""
    stream = open_take(data, name)
    return Take(tuple(stream.messages), stream.marks, stream.header, stream.record)


def open_take(data: bytes, name: str) -> TakeStream:
    """A take, or any Standard MIDI File of format 0 or 1. ``name`` is for errors.

    A take keeps the order of its bytes; other files are put in the order of :func:`listener.smf.reading.in_order`.
    :class:`SourceError` for what cannot be read, and for a file from elsewhere that has no notes. Damage is found here,
    before any message is given out.
    """
    file = survey(data, name)
    header = _find_header(file)
    stream = TakeStream(file, header)
    if header is None and not any(message.begins_note for message in stream.messages):
        if stream.has_drums:
            raise SourceError(f"{name} holds only percussion (channel 10); give one with chords or a tune")
        raise SourceError(f"{name} holds no notes; is it the right file?")
    return stream


def _tick(time_s: float) -> int:
    return max(0, ticks(time_s))


def _tempo_and_division(tempo: float) -> tuple[int, int]:
    """Microseconds and ticks in a quarter note of the file, always 40 to 1."""
    beat_us = 60_000_000 / tempo if tempo > 0 else DEFAULT_TEMPO_US
    division = max(1, round(beat_us / TICK_US))
    while division > _MAX_DIVISION:
        beat_us /= 2
        division = round(beat_us / TICK_US)
    return division * TICK_US, division


def _header_json(header: TakeHeader) -> bytes:
    return json.dumps({_FORMAT_FIELD: TAKE_FORMAT, **asdict(header)}, ensure_ascii=False).encode()


def _unpacked(packed: bytes) -> bytes:
    """The record; its checksum travels with it (zlib.org: RFC 1950)."""
    unpacking = zlib.decompressobj()
    try:
        record = unpacking.decompress(packed, _LONGEST_RECORD)
    except zlib.error:
        return b""
    return record if unpacking.eof else b""


def _find_header(file: Survey) -> TakeHeader | None:
    for text in file.openings:
        if text.startswith(b"{"):
            try:
                row = json.loads(text)
            except (ValueError, RecursionError):
                continue  # a text that only begins like ours, or is nested without end
            if _FORMAT_FIELD in row:
                return _header_from(row, file.name)
    return None


def _header_from(row: dict[str, Any], name: str) -> TakeHeader:
    version = row[_FORMAT_FIELD]
    if not is_whole(version) or version < 1:
        raise SourceError(f"{name} is a take, but its header is damaged (take_format must be a number from 1 on)")
    if version > TAKE_FORMAT:
        said = f"format {version}" if version < 1e6 else "a later format"
        raise SourceError(f"{name} is a take of {said}, this program reads up to {TAKE_FORMAT}; update it")
    return TakeHeader(**checked_fields(row, name, (CLICK, OWN_PACE)))


def _marks(file: Survey) -> Iterator[Mark]:
    for block in flow(file):
        for time_s, kind, text in block.texts:
            if kind == META_MARKER:
                yield Mark(on_grid(time_s), text.decode(errors="replace"))
