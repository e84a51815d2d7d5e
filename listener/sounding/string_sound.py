"""Notes on strings, in seconds: what is handed to a synthesiser or to the strings computed here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class StringSound:
    """A string plucked at ``start_s`` and stopped at ``end_s``; ``pitch`` and ``velocity`` as MIDI counts them."""

    string: int
    pitch: int
    start_s: float
    end_s: float
    velocity: int


def stopped(sounds: Iterable[StringSound]) -> tuple[StringSound, ...]:
    """In order of time, each ended at the latest when its own string is plucked again: a string has one note."""
    ordered = sorted(sounds, key=lambda one: (one.start_s, -one.string))
    next_s: dict[int, float] = {}
    found = []
    for one in reversed(ordered):
        end_s = min(one.end_s, next_s.get(one.string, one.end_s))
        next_s[one.string] = one.start_s
        if end_s > one.start_s:
            found.append(replace(one, end_s=end_s))
    return tuple(reversed(found))
