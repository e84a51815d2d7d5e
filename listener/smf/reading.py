"""Standard MIDI Files, read byte by byte: chunks, variable-length quantities, running status, tempo map.

Times come out in seconds as exact quotients rounded once, so the same ticks always give the same float. Formats 0 and
1, ticks per quarter note or SMPTE frames. System exclusive events are skipped; running status is let run on over them
and over meta events, as many writers do though the standard ends it there.

At equal ticks the order is: note-offs that end a sounding note, everything else but notes, note-ons, and last the
note-offs of notes that began at that very tick. So a repeated note is not cut off by the end of the one before, a bend
written before its note stays before it, and a note of no length does not hang.

Source: Standard MIDI Files 1.1 (MIDI Manufacturers Association).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Final

from listener.errors import SourceError
from listener.smf.writing import META_END, META_KEY, META_METER, META_TEMPO

#: Microseconds per quarter note where a file has no tempo: 120 in the minute.
DEFAULT_TEMPO_US: Final = 500_000
#: SMPTE frames in a second as quotients, by the negative number in the header; 29 is 30 drop.
_FRAMES: Final = {24: (24, 1), 25: (25, 1), 29: (30_000, 1_001), 30: (30, 1)}
#: Data bytes of a channel message, by the high half of its status.
_DATA_BYTES: Final = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}

#: A tick and the bytes of a channel message.
TickEvent = tuple[int, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class MidiFile:
    """``events`` are the channel messages of all tracks, tracks one after the other as they stand in the file;
    ``texts`` are the text-like meta events (tick, type, bytes); ``tempi`` (tick, microseconds per quarter).

    ``ends`` says for every track how many of the events and how many of the texts there are up to its end.
    ``meters`` are (tick, beats in a bar, unit); ``keys`` (tick, sharps with flats negative, whether minor).
    """

    format: int
    division: int
    events: tuple[TickEvent, ...]
    texts: tuple[tuple[int, int, bytes], ...]
    tempi: tuple[tuple[int, int], ...]
    ends: tuple[tuple[int, int], ...] = ()
    meters: tuple[tuple[int, int, int], ...] = ()
    keys: tuple[tuple[int, int, bool], ...] = ()

    def seconds(self, ticks: Iterable[int]) -> list[float]:
        """The times of rising ticks, in seconds from the start of the file."""
        if self.division & 0x8000:
            frames, per = _FRAMES[256 - (self.division >> 8)]
            per_second = frames * (self.division & 0xFF)
            return [tick * per / per_second for tick in ticks]
        changes = sorted(dict(self.tempi).items())
        scale = self.division * 1_000_000
        found = []
        start = passed = at = 0
        tempo = DEFAULT_TEMPO_US
        for tick in ticks:
            while at < len(changes) and changes[at][0] <= tick:
                passed += (changes[at][0] - start) * tempo
                start, tempo = changes[at]
                at += 1
            found.append((passed + (tick - start) * tempo) / scale)
        return found


def read_vlq(data: bytes, position: int) -> tuple[int, int]:
    """The quantity at ``position`` and the position after it; IndexError where the data ends, ValueError when it is
    longer than four bytes."""
    value = 0
    for _ in range(4):
        byte = data[position]
        position += 1
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, position
    raise ValueError("a number is longer than four bytes")


def read_smf(data: bytes, name: str) -> MidiFile:
    """Everything that matters of a file's bytes; :class:`SourceError` says in one line what is wrong with them."""
    if not data:
        raise SourceError(f"{name} is empty; save or copy it again")
    if data[:4] != b"MThd":
        raise SourceError(f"{name} is not a Standard MIDI File (it does not begin with MThd)")
    if len(data) < 14:
        raise _cut_off(name, "its header")
    size = int.from_bytes(data[4:8])
    form, track_count, division = (int.from_bytes(data[at : at + 2]) for at in (8, 10, 12))
    _check_header(name, form, division)
    reader = _Tracks(name)
    position = 8 + size
    while reader.count < track_count:
        kind, length = data[position : position + 4], int.from_bytes(data[position + 4 : position + 8])
        start, position = position + 8, position + 8 + length
        if position > len(data) or len(kind) < 4:
            raise _cut_off(name, f"track {reader.count + 1} of {track_count}")
        if kind == b"MTrk":
            reader.read(data[start:position])
    return MidiFile(
        format=form,
        division=division,
        events=tuple(reader.events),
        texts=tuple(reader.texts),
        tempi=tuple(reader.tempi),
        ends=tuple(reader.ends),
        meters=tuple(reader.meters),
        keys=tuple(reader.keys),
    )


def _cut_off(name: str, where: str) -> SourceError:
    return SourceError(f"{name} is cut off in {where}; save or copy it again")


def _check_header(name: str, form: int, division: int) -> None:
    if form not in (0, 1):
        raise SourceError(f"{name} is a format {form} MIDI file; save it as format 0 or 1")
    if division & 0x8000:
        if 256 - (division >> 8) not in _FRAMES or not division & 0xFF:
            raise SourceError(
                f"{name} counts time in SMPTE frames of an unknown kind; save it with ticks per quarter note"
            )
    elif division == 0:
        raise SourceError(f"{name} has no ticks in a quarter note; its header is damaged")


class _Tracks:
    """Collects the events of one track after the other."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.count = 0
        self.events: list[TickEvent] = []
        self.texts: list[tuple[int, int, bytes]] = []
        self.tempi: list[tuple[int, int]] = []
        self.ends: list[tuple[int, int]] = []
        self.meters: list[tuple[int, int, int]] = []
        self.keys: list[tuple[int, int, bool]] = []

    def read(self, data: bytes) -> None:
        """One track, without its chunk header."""
        self.count += 1
        try:
            self._events_of(data)
        except IndexError:
            raise _cut_off(self.name, f"an event of track {self.count}") from None
        except ValueError as error:
            raise SourceError(f"{self.name}, track {self.count}: {error}; the file is damaged") from None
        self.ends.append((len(self.events), len(self.texts)))

    def _events_of(self, data: bytes) -> None:
        """Written out in one loop: a file has some hundred thousand events and this is where its time goes."""
        append = self.events.append
        position, end, tick, status, length = 0, len(data), 0, 0, 0
        while position < end:
            byte = data[position]
            position += 1
            if byte < 0x80:
                tick += byte
            else:
                delta, position = read_vlq(data, position - 1)
                tick += delta
            byte = data[position]
            if byte >= 0xF0:
                position = self._other(data, position, tick)
                if position < 0:
                    return
                continue
            if byte >= 0x80:
                status, length = byte, _DATA_BYTES[byte >> 4]
                position += 1
            elif not status:
                raise ValueError(f"data without a status at byte {position}")
            first = data[position]
            second = data[position + 1] if length == 2 else 0
            if (first | second) > 127:
                raise ValueError(f"a status byte where data should be, at byte {position}")
            append((tick, (status, first, second) if length == 2 else (status, first)))
            position += length

    def _other(self, data: bytes, position: int, tick: int) -> int:
        """A meta or system exclusive event; the position after it, -1 at the end of the track."""
        kind = data[position]
        if kind not in (0xF0, 0xF7, 0xFF):
            raise ValueError(f"a byte {kind:02X} that no MIDI file may hold, at byte {position}")
        position += 1
        meta = -1
        if kind == 0xFF:
            meta = data[position]
            position += 1
        length, position = read_vlq(data, position)
        end = position + length
        if end > len(data):
            raise IndexError
        if meta == META_END:
            return -1
        if meta == META_TEMPO and length == 3:
            self.tempi.append((tick, int.from_bytes(data[position:end])))
        elif meta == META_METER and length >= 2:
            self.meters.append((tick, data[position], 1 << min(data[position + 1], 7)))
        elif meta == META_KEY and length == 2:
            sharps = (data[position] + 128) % 256 - 128
            self.keys.append((tick, sharps, data[position + 1] == 1))
        elif 0 < meta < 0x10:
            self.texts.append((tick, meta, data[position:end]))
        return end


def in_order(events: Iterable[TickEvent]) -> list[TickEvent]:
    """Events of all tracks by tick; at equal ticks as this module's text says."""
    ordered: list[TickEvent] = []
    sounding: dict[tuple[int, int], int] = {}
    for _, group in groupby(sorted(events, key=itemgetter(0)), key=itemgetter(0)):
        chord = list(group)
        if len(chord) > 1:
            chord = _same_tick(chord, sounding)
        for _, data in chord:
            kind = data[0] & 0xF0
            if kind == 0x90 and data[2]:
                key = (data[0] & 0x0F, data[1])
                sounding[key] = sounding.get(key, 0) + 1
            elif kind in (0x80, 0x90):
                key = (data[0] & 0x0F, data[1])
                sounding[key] = max(0, sounding.get(key, 0) - 1)
        ordered.extend(chord)
    return ordered


def _same_tick(chord: list[TickEvent], sounding: dict[tuple[int, int], int]) -> list[TickEvent]:
    ends: list[TickEvent] = []
    others: list[TickEvent] = []
    begins: list[TickEvent] = []
    late_ends: list[TickEvent] = []
    left: dict[tuple[int, int], int] = {}
    for event in chord:
        data = event[1]
        kind = data[0] & 0xF0
        if kind == 0x90 and data[2]:
            begins.append(event)
        elif kind in (0x80, 0x90):
            key = (data[0] & 0x0F, data[1])
            left.setdefault(key, sounding.get(key, 0))
            (ends if left[key] else late_ends).append(event)
            left[key] = max(0, left[key] - 1)
        else:
            others.append(event)
    return ends + others + begins + late_ends
