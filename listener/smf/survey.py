"""A Standard MIDI File looked through before it is read: is it whole, and where do its tracks lie?

Every byte is checked here, so what reads the events afterwards (:mod:`listener.smf.reading`) need not check again, and
a damaged file is refused before anything of it has been used. Channel messages are checked by the thousand with regular
expressions, which costs about a hundredth of reading them.

Source: Standard MIDI Files 1.1 (MIDI Manufacturers Association).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from listener.errors import SourceError
from listener.smf.writing import META_END, META_SPECIFIC, META_TEXT

#: SMPTE frames in a second as quotients, by the negative number in the header; 29 is 30 drop.
FRAMES: Final = {24: (24, 1), 25: (25, 1), 29: (30_000, 1_001), 30: (30, 1)}
#: Data bytes of a channel message, by the high half of its status.
DATA_BYTES: Final = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}

_DELTA: Final = rb"[\x80-\xff]{0,3}[\x00-\x7f]"
#: Statuses of messages with one and two data bytes, by their number.
_STATUSES: Final = {1: rb"[\xc0-\xdf]", 2: rb"[\x80-\xbf\xe0-\xef]"}


def _run(width: int, *, begun: bool) -> re.Pattern[bytes]:
    """Messages with so many data bytes, with or without status but for the first where none has ``begun``.

    Nothing in it can be read in two ways. It is repeated a limited number of times, which bounds its memory.
    """
    first = b"" if begun else _DELTA + _STATUSES[width] + rb"[\x00-\x7f]{%d}" % width
    more = rb"(?:%s%s?[\x00-\x7f]{%d}){%d,2000}" % (_DELTA, _STATUSES[width], width, begun)
    return re.compile(first + more, re.DOTALL)


#: What may follow, by the number of data bytes of the running status (0: there is none).
_RUNS: Final = {
    0: ((2, _run(2, begun=False)), (1, _run(1, begun=False))),
    1: ((1, _run(1, begun=True)), (2, _run(2, begun=False))),
    2: ((2, _run(2, begun=True)), (1, _run(1, begun=False))),
}


@dataclass(frozen=True, slots=True)
class Survey:
    """A file that is whole. ``spans`` are first byte and end of each track's events, its end of track left out.

    ``openings`` are the plain texts (meta event 1) at the very start of the tracks, ``specifics`` what programs have
    put there for themselves (meta event 127); ``metas`` are the types of meta events that there are.
    """

    name: str
    data: bytes
    format: int
    division: int
    spans: tuple[tuple[int, int], ...]
    openings: tuple[bytes, ...]
    metas: frozenset[int]
    specifics: tuple[bytes, ...]


def read_vlq(data: bytes, position: int, end: int | None = None) -> tuple[int, int]:
    """The quantity at ``position`` and the position after it; IndexError where the data (or what is before ``end``)
    ends, ValueError when it is longer than four bytes."""
    value = 0
    for at in range(position, position + 4):
        if at == end:
            raise IndexError
        byte = data[at]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + 1
    raise ValueError("a number is longer than four bytes")


def survey(data: bytes, name: str) -> Survey:
    """Look a file's bytes through; :class:`SourceError` says in one line what is wrong with them."""
    if not data:
        raise SourceError(f"{name} is empty; save or copy it again")
    if data[:4] != b"MThd":
        raise SourceError(f"{name} is not a Standard MIDI File (it does not begin with MThd)")
    if len(data) < 14:
        raise _cut_off(name, "its header")
    size = int.from_bytes(data[4:8])
    form, track_count, division = (int.from_bytes(data[at : at + 2]) for at in (8, 10, 12))
    _check_header(name, form, division)
    look = _Look(data)
    spans: list[tuple[int, int]] = []
    position = 8 + size
    while len(spans) < track_count:
        kind, length = data[position : position + 4], int.from_bytes(data[position + 4 : position + 8])
        start, position = position + 8, position + 8 + length
        number = len(spans) + 1
        if position > len(data) or len(kind) < 4:
            raise _cut_off(name, f"track {number} of {track_count}")
        if kind == b"MTrk":
            spans.append((start, _checked(look, start, position, name, number)))
    openings, specifics = tuple(look.openings), tuple(look.specifics)
    return Survey(name, data, form, division, tuple(spans), openings, frozenset(look.metas), specifics)


def _cut_off(name: str, where: str) -> SourceError:
    return SourceError(f"{name} is cut off in {where}; save or copy it again")


def _check_header(name: str, form: int, division: int) -> None:
    if form not in (0, 1):
        raise SourceError(f"{name} is a format {form} MIDI file; save it as format 0 or 1")
    if division & 0x8000:
        if 256 - (division >> 8) not in FRAMES or not division & 0xFF:
            raise SourceError(
                f"{name} counts time in SMPTE frames of an unknown kind; save it with ticks per quarter note"
            )
    elif division == 0:
        raise SourceError(f"{name} has no ticks in a quarter note; its header is damaged")


def _checked(look: _Look, start: int, end: int, name: str, number: int) -> int:
    """Where the events of a track end."""
    try:
        return look.through(start, end)
    except IndexError:
        raise _cut_off(name, f"an event of track {number}") from None
    except ValueError as error:
        raise SourceError(f"{name}, track {number}: {error}; the file is damaged") from None


class _Look:
    """Goes through one track after the other."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.openings: list[bytes] = []
        self.specifics: list[bytes] = []
        self.metas: set[int] = set()

    def through(self, start: int, end: int) -> int:
        """Where the events of this track end; IndexError where they are cut off, ValueError where they are damaged."""
        position, width, opening = start, 0, True
        while position < end:
            # What stands at the very start is looked at one by one: a take begins with its header.
            found = None if opening else self._run(position, end, width)
            if found is not None:
                width, position = found
                continue
            delta, at = read_vlq(self._data, position, end)
            opening = opening and not delta
            if at >= end:
                raise IndexError
            if self._data[at] >= 0xF0:
                after = self._other(at, start, end, opening=opening)
                if after < 0:
                    return position
                position = after
            else:
                width, position = self._message(at, start, end, width)
        return end

    def _run(self, position: int, end: int, width: int) -> tuple[int, int] | None:
        """Past as many channel messages as there are: their data bytes, and the position."""
        for found, pattern in _RUNS[width]:
            match = pattern.match(self._data, position, end)
            if match is not None:
                return found, match.end()
        return None

    def _message(self, position: int, start: int, end: int, width: int) -> tuple[int, int]:
        """Past one channel message."""
        status = self._data[position]
        if status >= 0x80:
            width = DATA_BYTES[status >> 4]
            position += 1
        elif not width:
            raise ValueError(f"data without a status at byte {position - start}")
        if position + width > end:
            raise IndexError
        if max(self._data[position : position + width]) > 0x7F:
            raise ValueError(f"a status byte where data should be, at byte {position - start}")
        return width, position + width

    def _other(self, position: int, start: int, end: int, *, opening: bool) -> int:
        """Past a meta or system exclusive event; -1 at the end of the track."""
        data = self._data
        kind = data[position]
        if kind not in (0xF0, 0xF7, 0xFF):
            raise ValueError(f"a byte {kind:02X} that no MIDI file may hold, at byte {position - start}")
        position += 1
        meta = -1
        if kind == 0xFF:
            if position >= end:
                raise IndexError
            meta = data[position]
            position += 1
        length, position = read_vlq(data, position, end)
        if position + length > end:
            raise IndexError
        if meta == META_END:
            return -1
        if meta >= 0:
            self.metas.add(meta)
        if opening and meta == META_TEXT:
            self.openings.append(data[position : position + length])
        elif opening and meta == META_SPECIFIC:
            self.specifics.append(data[position : position + length])
        return position + length
