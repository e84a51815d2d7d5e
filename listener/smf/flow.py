"""The messages of a Standard MIDI File in order of time, some at once: a file of any length needs little memory.

The tracks are read side by side, a block of each, and put in order up to where all of them have been read. What lies at
one and the same tick is held until that tick is over, since it is put in order as a whole.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from math import inf
from operator import itemgetter
from typing import Final

from listener.smf.reading import MetaEvent, Sorter, TickEvent, Timeline, tempi_of, texts_of, track_blocks
from listener.smf.survey import Survey

#: Messages that are read at once, of all tracks together.
_AT_ONCE: Final = 8192
_TICK: Final = itemgetter(0)


@dataclass(frozen=True, slots=True)
class Block:
    """Channel messages, rising times in seconds from the start of the file, and the (time, type, bytes) of the texts
    among them. Text and message at one time may fall into neighbouring blocks."""

    times_s: list[float]
    messages: list[tuple[int, ...]]
    texts: list[tuple[float, int, bytes]]


def flow(file: Survey, *, as_written: bool = False, size: int = 0) -> Iterator[Block]:
    """All messages of a file. At equal ticks they are in the order of :func:`listener.smf.reading.in_order`, or
    ``as_written`` in that of the file's bytes. ``size`` is about how many of a track are read at once (0: some thousand
    of all tracks together)."""
    size = size or max(256, _AT_ONCE // max(1, len(file.spans)))
    lanes = [_Lane(file, start, end, size) for start, end in file.spans]
    timeline, sorter = Timeline(file.division), Sorter()
    horizon: float = -1
    while lanes and horizon < inf:
        for lane in lanes:
            if lane.reached <= horizon:
                lane.load()
        horizon = min(lane.reached for lane in lanes)
        events: list[TickEvent] = []
        metas: list[MetaEvent] = []
        for lane in lanes:
            lane.give(horizon, events, metas)
        if metas:
            metas.sort(key=_TICK)
        if events or metas:
            events = sorted(events, key=_TICK) if as_written else sorter.sort(events)
            yield _block(timeline, events, metas)


class _Lane:
    """One track: what has been read of it and not yet given out."""

    def __init__(self, file: Survey, start: int, end: int, size: int) -> None:
        self._metas: list[MetaEvent] = []
        self._events: list[TickEvent] = []
        self._blocks = track_blocks(file, start, end, self._metas, size)
        #: It has been read up to this tick, which may go on; infinity when it is over.
        self.reached: float = -1

    def load(self) -> None:
        """Read on."""
        block = next(self._blocks, None)
        if block is None:
            self.reached = inf
            return
        self._events += block
        for rows in (self._events, self._metas):
            if rows:
                self.reached = max(self.reached, rows[-1][0])

    def give(self, horizon: float, events: list[TickEvent], metas: list[MetaEvent]) -> None:
        """Everything before a tick."""
        if self._events:
            cut = bisect_left(self._events, horizon, key=_TICK)
            events += self._events[:cut]
            del self._events[:cut]
        if self._metas:
            cut = bisect_left(self._metas, horizon, key=_TICK)
            metas += self._metas[:cut]
            del self._metas[:cut]


def _block(timeline: Timeline, events: Sequence[TickEvent], metas: Sequence[MetaEvent]) -> Block:
    changes = sorted(dict(tempi_of(metas)).items()) if metas else []
    texts = texts_of(metas) if metas else []
    text_times = _seconds(copy(timeline), texts, changes) if texts else []
    times_s = _seconds(timeline, events, changes)
    return Block(
        times_s,
        [data for _, data in events],
        [(time_s, kind, data) for time_s, (_, kind, data) in zip(text_times, texts, strict=True)],
    )


def _seconds(
    timeline: Timeline, rows: Sequence[TickEvent] | Sequence[MetaEvent], changes: Sequence[tuple[int, int]]
) -> list[float]:
    """The times of rows with rising ticks; the timeline takes the changes of tempo among them."""
    found: list[float] = []
    begin = 0
    for tick, tempo_us in changes:
        end = bisect_left(rows, tick, lo=begin, key=_TICK)
        found += timeline.seconds(map(_TICK, rows[begin:end]))
        timeline.change(tick, tempo_us)
        begin = end
    return found + timeline.seconds(map(_TICK, rows[begin:] if begin else rows))
