"""Bars that come again at once, folded into one passage that is played so many times."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Final, NamedTuple

#: Fewer bars saved are not worth a passage of their own.
_WORTH: Final = 2
#: Longer passages than this are not looked for again, in bars; it bounds the time.
_LONGEST: Final = 128
MOST_TIMES: Final = 100


class Fold(NamedTuple):
    """Bars ``first`` to ``last`` (from 0, the last one not among them), played so many times."""

    first: int
    last: int
    times: int


def folded(bars: Sequence[Hashable], begins: Sequence[bool]) -> list[Fold]:
    """The bars as passages; what is alike is equal. A passage may begin only where ``begins`` says so.

    >>> folded("abababcd", [True] * 8)
    [Fold(first=0, last=2, times=3), Fold(first=6, last=8, times=1)]
    """
    found: list[Fold] = []
    at = plain = 0
    while at < len(bars):
        length, times = _best(bars, begins, at)
        if not length:
            at += 1
            continue
        if plain < at:
            found.append(Fold(plain, at, 1))
        found.append(Fold(at, at + length, times))
        at = plain = at + length * times
    if plain < len(bars):
        found.append(Fold(plain, len(bars), 1))
    return found


def _best(bars: Sequence[Hashable], begins: Sequence[bool], at: int) -> tuple[int, int]:
    """Length and times of the passage from here on that saves most bars; 0 and 1 where none is worth it."""
    best, saved = (0, 1), _WORTH - 1
    if not begins[at]:
        return best
    for length in range(1, min(_LONGEST, (len(bars) - at) // 2) + 1):
        times = 1
        while times < MOST_TIMES and _again(bars, at, length, times):
            times += 1
        after = at + length * times
        while times > 1 and after < len(bars) and not begins[after]:
            times, after = times - 1, after - length
        if times > 1 and (times - 1) * length > saved:
            best, saved = (length, times), (times - 1) * length
    return best


def _again(bars: Sequence[Hashable], at: int, length: int, times: int) -> bool:
    start = at + length * times
    return all(start + place < len(bars) and bars[start + place] == bars[at + place] for place in range(length))
