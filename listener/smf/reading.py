"""Standard MIDI Files, read byte by byte: chunks, variable-length quantities, running status, tempo map.

Times come out in seconds as exact quotients rounded once, so the same ticks always give the same float. Formats 0 and
1, ticks per quarter note or SMPTE frames. System exclusive events are skipped; running status is let run on over them
and over meta events, as many writers do though the standard ends it there.

At equal ticks the order is: note-offs that end a sounding note, everything else but notes, note-ons, and last the
note-offs of notes that began at that very tick. So a repeated note is not cut off by the end of the one before, a bend
written before its note stays before it, and a note of no length does not hang.

:func:`read_smf` reads a file as a whole, track by track; :mod:`listener.smf.flow` gives its messages out in order of
time, some at once, so that a file of any length needs little memory.

Source: Standard MIDI Files 1.1 (MIDI Manufacturers Association).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import itemgetter
from typing import Final

from listener.smf.survey import DATA_BYTES, FRAMES, Survey, read_vlq, survey
from listener.smf.writing import META_KEY, META_METER, META_TEMPO

#: Microseconds per quarter note where a file has no tempo: 120 in the minute.
DEFAULT_TEMPO_US: Final = 500_000

#: A tick and the bytes of a channel message.
TickEvent = tuple[int, tuple[int, ...]]
#: A tick, the type of a meta event and its bytes.
MetaEvent = tuple[int, int, bytes]


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
    texts: tuple[MetaEvent, ...]
    tempi: tuple[tuple[int, int], ...]
    ends: tuple[tuple[int, int], ...] = ()
    meters: tuple[tuple[int, int, int], ...] = ()
    keys: tuple[tuple[int, int, bool], ...] = ()

    def seconds(self, ticks: Iterable[int]) -> list[float]:
        """The times of rising ticks, in seconds from the start of the file."""
        timeline = Timeline(self.division)
        changes = sorted(dict(self.tempi).items())
        found: list[float] = []
        at = 0
        for tick, group in groupby(ticks):
            while at < len(changes) and changes[at][0] <= tick:
                timeline.change(*changes[at])
                at += 1
            found.extend(timeline.seconds(list(group)))
        return found


class Timeline:
    """Ticks to seconds, from the start of the file on."""

    def __init__(self, division: int) -> None:
        self._frames = bool(division & 0x8000)
        self._passed = self._start = 0
        self._tempo = DEFAULT_TEMPO_US
        self._scale = division * 1_000_000
        if self._frames:
            frames, self._per = FRAMES[256 - (division >> 8)]
            self._scale = frames * (division & 0xFF)

    def change(self, tick: int, tempo_us: int) -> None:
        """From this tick on a quarter note lasts so many microseconds."""
        if not self._frames:
            self._passed += (tick - self._start) * self._tempo
            self._start, self._tempo = tick, tempo_us

    def seconds(self, ticks: Iterable[int]) -> list[float]:
        """The times of ticks since the last change."""
        scale, per = self._scale, self._tempo
        if self._frames:
            per = self._per
            return [tick * per / scale for tick in ticks]
        # One quotient, rounded once, of whole numbers of any size.
        start, passed = self._start, self._passed
        return [(passed + (tick - start) * per) / scale for tick in ticks]


def read_smf(data: bytes, name: str) -> MidiFile:
    """Everything that matters of a file's bytes; :class:`SourceError` says in one line what is wrong with them."""
    found = survey(data, name)
    events: list[TickEvent] = []
    metas: list[MetaEvent] = []
    ends = []
    for start, end in found.spans:
        for block in track_blocks(found, start, end, metas):
            events += block
        ends.append((len(events), len(texts_of(metas))))
    return MidiFile(
        format=found.format,
        division=found.division,
        events=tuple(events),
        texts=tuple(texts_of(metas)),
        tempi=tuple(tempi_of(metas)),
        ends=tuple(ends),
        meters=tuple(
            (tick, data[0], 1 << min(data[1], 7)) for tick, kind, data in metas if kind == META_METER and len(data) >= 2
        ),
        keys=tuple(
            (tick, (data[0] + 128) % 256 - 128, data[1] == 1)
            for tick, kind, data in metas
            if kind == META_KEY and len(data) == 2
        ),
    )


def tempi_of(metas: Iterable[MetaEvent]) -> list[tuple[int, int]]:
    """(tick, microseconds per quarter) of every tempo among them."""
    return [(tick, int.from_bytes(data)) for tick, kind, data in metas if kind == META_TEMPO and len(data) == 3]


def texts_of(metas: Iterable[MetaEvent]) -> list[MetaEvent]:
    """The text-like ones."""
    return [meta for meta in metas if 0 < meta[1] < 0x10]


def track_blocks(
    file: Survey, start: int, end: int, metas: list[MetaEvent], size: int = 4096
) -> Iterator[list[TickEvent]]:
    """The channel messages of a track in the order of its bytes, about ``size`` at a time; meta events go to ``metas``
    meanwhile.

    Written out in one loop: a file has some hundred thousand events and this is where its time goes. The survey has
    seen to it that every byte is in its place.
    """
    data = file.data
    position, tick, status, length = start, 0, 0, 0
    while position < end:
        block: list[TickEvent] = []
        append = block.append
        full = min(end, position + 3 * size)
        while position < full:
            byte = data[position]
            position += 1
            if byte < 0x80:
                tick += byte
            elif (low := data[position]) < 0x80:
                tick += (byte & 0x7F) << 7 | low
                position += 1
            else:
                delta, position = read_vlq(data, position - 1)
                tick += delta
            byte = data[position]
            if byte >= 0x80:
                if byte >= 0xF0:
                    position = _other(data, position, tick, metas)
                    continue
                status, length = byte, DATA_BYTES[byte >> 4]
                position += 1
            if length == 2:
                append((tick, (status, data[position], data[position + 1])))
            else:
                append((tick, (status, data[position])))
            position += length
        yield block


def _other(data: bytes, position: int, tick: int, metas: list[MetaEvent]) -> int:
    """Past a meta or system exclusive event."""
    meta = -1
    if data[position] == 0xFF:
        position += 1
        meta = data[position]
    length, position = read_vlq(data, position + 1)
    if meta >= 0:
        metas.append((tick, meta, data[position : position + length]))
    return position + length


def in_order(events: Iterable[TickEvent]) -> list[TickEvent]:
    """Events of all tracks by tick; at equal ticks as this module's text says."""
    return Sorter().sort(events)


class Sorter:
    """Puts events in order, block after block; it remembers which notes sound from one to the next."""

    def __init__(self) -> None:
        #: How often each note of each channel sounds: 128 for every channel.
        self._sounding = [0] * 2048

    def sort(self, events: Iterable[TickEvent]) -> list[TickEvent]:
        """The next events; all of one tick must come in one block, and ticks must not fall from block to block."""
        by_tick = sorted(events, key=itemgetter(0))
        ticks = [tick for tick, _ in by_tick]
        ordered: list[TickEvent] = []
        done = 0
        # Only where neighbours are of one tick is there anything to put in order.
        for at, (tick, following) in enumerate(pairwise(ticks)):
            if tick == following and at >= done:
                end = bisect_right(ticks, tick, lo=at)
                self._count(by_tick[done:at])
                ordered += by_tick[done:at]
                ordered += self._same_tick(by_tick[at:end])
                done = end
        self._count(by_tick[done:])
        return ordered + by_tick[done:]

    def _count(self, events: Iterable[TickEvent]) -> None:
        sounding = self._sounding
        for _, data in events:
            kind = data[0] & 0xF0
            if kind == 0x90 and data[2]:
                sounding[(data[0] & 0x0F) << 7 | data[1]] += 1
            elif kind == 0x80 or kind == 0x90:
                key = (data[0] & 0x0F) << 7 | data[1]
                if sounding[key]:
                    sounding[key] -= 1

    def _same_tick(self, chord: list[TickEvent]) -> list[TickEvent]:
        ends: list[TickEvent] = []
        others: list[TickEvent] = []
        begins: list[TickEvent] = []
        late_ends: list[TickEvent] = []
        left: dict[int, int] = {}
        for event in chord:
            data = event[1]
            kind = data[0] & 0xF0
            if kind == 0x90 and data[2]:
                begins.append(event)
            elif kind in (0x80, 0x90):
                key = (data[0] & 0x0F) << 7 | data[1]
                left.setdefault(key, self._sounding[key])
                (ends if left[key] else late_ends).append(event)
                left[key] = max(0, left[key] - 1)
            else:
                others.append(event)
        ordered = ends + others + begins + late_ends
        self._count(ordered)
        return ordered
