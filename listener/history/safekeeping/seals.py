"""A row's seal: a checksum of its values, kept beside them, so that a row that changed on its own is found.

A seal is the CRC-32 of the values one after the other (ITU-T V.42, as in zip files). It is there for disks that lose a
bit, not against people: who changes a row on purpose can seal it again, or take the seal off (NULL), and then the row
only has to make sense. A seal also says which single bit fell over, if it was one, and :func:`put_right` turns it back.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final
from zlib import crc32

from listener.history.store.rows import STROKE_COLUMNS

#: What is sealed of each table, in this order. Numbers that the database gives are only part of it where rows know
#: theirs; ``reviewed``, ``owner`` and what follows from strokes change on their own and are no part of a take's.
SEALED: Final[Mapping[str, tuple[str, ...]]] = {
    "session": ("started_at",),
    "route": ("step_count", "plan", "drill_text"),
    "target": ("route", "step", "chord", "kind", "inversion", "strings", "pitches", "top", "quality", "skill"),
    "take": (
        *("id", "session", "route", "drill", "program_version", "tuning", "capo", "hand", "pickup", "pace", "tempo"),
        *("first_beat_s", "source", "seed", "header", "started_at", "finished_at", "recovered", "file", "file_sha256"),
        *("instrument", "hand_model", "pickup_profile", "judged_by"),
    ),
    "stroke": ("take", "number", *STROKE_COLUMNS),
    "chunk": ("take", "number", "messages", "marks"),
    "judgement": ("take", "program_version", "replaced_at"),
    #: With the take of its judgement: a former stroke keeps the seal that it had as a stroke.
    "former_stroke": ("take", "number", *STROKE_COLUMNS),
    "skill": (
        *("player", "key", "stability_days", "difficulty", "stage", "learning_step", "reviewed_at", "due_at"),
        *("reviews", "tries", "hits", "recent", "take", "route", "step"),
    ),
    "review": ("skill", "take", "grade", "tries", "hits", "step"),
    "drill_played": (*("player", "drill", "title", "take", "route", "drill_tempo", "beats", "strain", "played_at"),),
    "vocabulary": ("take", "skill", "root", "chords"),
}


def seal(table: str, row: Mapping[str, object]) -> int:
    """The seal of a row of this table, 32 bits; what is not sealed may be left out."""
    return seal_of([row[name] for name in SEALED[table]])


def sealed(table: str, row: Mapping[str, object]) -> dict[str, object]:
    """The row with its seal."""
    return {**row, "seal": seal(table, row)}


def seal_of(values: Sequence[object]) -> int:
    """The seal of values in this order."""
    return crc32(b"".join([_plain(value) for value in values]))


def put_right(values: Sequence[Any], kept: int) -> list[Any] | None:
    """The values with the one bit turned back that makes them fit their seal; None when no single bit does.

    A CRC is linear: which bit fell over follows from the difference of the two seals alone, however long the row is.
    """
    difference = seal_of(values) ^ kept
    if not difference:
        return list(values)
    if difference.bit_count() == 1:  # the seal itself lost it
        return list(values)
    parts = [_plain(value) for value in values]
    place = _flipped(difference, sum(map(len, parts)))
    if place is None:
        return None
    position, bit = place
    for index, part in enumerate(parts):
        if position < len(part):
            changed = bytearray(part)
            changed[position] ^= bit
            value = _value(bytes(changed))
            if value is None:
                return None
            return [*values[:index], value[0], *values[index + 1 :]]
        position -= len(part)
    return None


def _plain(value: object) -> bytes:
    """A value as bytes, its kind first. Numbers that are whole are the same whether they were written so or not, as
    they are in a column for real numbers."""
    try:
        return _PLAIN[type(value)](value)
    except KeyError:
        raise TypeError(f"a {type(value).__name__} is no value of a row") from None


def _whole(value: int) -> bytes:
    try:
        return _INTEGER.pack(b"i", value)
    except struct.error:  # more than a database holds; it will say so itself
        return b"i" + str(value).encode()


def _real(value: float) -> bytes:
    if value.is_integer() and abs(value) < _EXACT:
        return _whole(int(value))
    return _DOUBLE.pack(b"f", value)


_INTEGER: Final = struct.Struct(">cq")
_DOUBLE: Final = struct.Struct(">cd")
#: Whole numbers up to here are exact as real ones.
_EXACT: Final = 2**53
_PLAIN: Final[dict[type, Callable[[Any], bytes]]] = {
    type(None): lambda value: b"n",
    str: lambda value: b"s" + value.encode("utf-8", "surrogateescape"),
    int: _whole,
    bool: lambda value: _whole(int(value)),
    float: _real,
    bytes: lambda value: b"b" + value,
    memoryview: lambda value: b"b" + bytes(value),
}


def _value(part: bytes) -> tuple[Any] | None:
    """The value that :func:`_plain` wrote; None when it can be none."""
    kind, rest = part[:1], part[1:]
    try:
        if kind == b"s":
            return (rest.decode(),)
        if kind == b"i" and len(rest) == 8:
            return (int.from_bytes(rest, "big", signed=True),)
        if kind == b"f":
            return (struct.unpack(">d", rest)[0],)
    except (ValueError, struct.error):
        return None
    return (rest,) if kind == b"b" else None


def _table() -> tuple[int, ...]:
    found = []
    for byte in range(256):
        rest = byte
        for _ in range(8):
            rest = (rest >> 1) ^ (0xEDB88320 if rest & 1 else 0)
        found.append(rest)
    return tuple(found)


_TABLE: Final = _table()


def _flipped(difference: int, length: int) -> tuple[int, int] | None:
    """Position and bit in so many bytes that make this difference between two CRCs when turned over."""
    marks = {_TABLE[1 << bit]: 1 << bit for bit in range(8)}
    # What a bit in the last byte makes is known; for each byte that comes after it, it goes through the table once
    # more. Taken backwards through the table, the difference becomes one of the eight.
    state = difference
    for position in range(length - 1, -1, -1):
        if state in marks:
            return position, marks[state]
        # The highest bytes of the table's entries are all different, so the step before is known.
        index = _BACK[state >> 24]
        state = ((state ^ _TABLE[index]) << 8 | index) & 0xFFFFFFFF
    return None


_BACK: Final = {entry >> 24: index for index, entry in enumerate(_TABLE)}
