"""Chords in time, written out as a progression that :mod:`listener.tunes.bars` reads back."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm
from typing import Final

from listener.tunes.bars import LONGER
from listener.tunes.tune import TimedChord

NO_CHORD: Final = "N.C."
#: Bars that stand on one line of a drill file.
BARS_ON_A_LINE: Final = 4
#: A bar is cut into at most so many shares; chords between them are moved to the nearest sixteenth of the bar.
_MOST_SHARES: Final = 48
_COARSE: Final = 16


def written_out(chords: Sequence[TimedChord], bar: Fraction, bars: int | None = None) -> str:
    """The chords of a tune in bars of this length, four to a line; times are in one and the same unit from a bar line,
    and no two chords sound at once.

    Where no chord is stands ``N.C.``; a chord that lasts over a bar line goes on with dots.

    >>> from listener.music.chord import parse_chord
    >>> written_out([TimedChord(Fraction(0), Fraction(3), parse_chord("C"))], Fraction(2), 2)
    'C | . N.C.'
    """
    placed = _on_a_grid(chords, bar)
    count = bars if bars is not None else _bars(placed, bar)
    ends = [start + length for start, length, _ in placed]
    words = []
    for number in range(count):
        first, last = bisect_right(ends, number * bar), bisect_left(placed, (number + 1) * bar, key=_start)
        words.append(" ".join(_bar(placed[first:last], number * bar, bar)))
    return in_lines(words)


def _start(chord: TimedChord) -> Fraction:
    return chord.start_beats


def in_lines(bars: Sequence[str]) -> str:
    """Bars with bar lines between them, those of one line under those of the other."""
    width = max((len(bar) for bar in bars), default=0) if len(bars) > BARS_ON_A_LINE else 0
    lines = [bars[first : first + BARS_ON_A_LINE] for first in range(0, len(bars), BARS_ON_A_LINE)]
    return "\n".join(" | ".join(bar.ljust(width) for bar in line).rstrip() for line in lines)


def _bars(chords: Sequence[TimedChord], bar: Fraction) -> int:
    end = max((chord.start_beats + chord.length_beats for chord in chords), default=Fraction(0))
    return int(-(-end // bar))


def _on_a_grid(chords: Sequence[TimedChord], bar: Fraction) -> list[TimedChord]:
    """The same where every bar can be written in shares; else with its chords moved a little."""
    edges = {edge for start, length, _ in chords for edge in (start, start + length)}
    if lcm(*((edge / bar).denominator for edge in edges)) <= _MOST_SHARES:
        return list(chords)
    found = []
    for start, length, chord in chords:
        first, last = (Fraction(round(edge / bar * _COARSE), _COARSE) * bar for edge in (start, start + length))
        if last > first:
            found.append(TimedChord(first, last - first, chord))
    return found


def _bar(chords: Sequence[TimedChord], start: Fraction, bar: Fraction) -> Iterator[str]:
    """The words of the bar that begins here."""
    return bar_words(list(_pieces(chords, start, start + bar)), bar)


def bar_words(pieces: Sequence[tuple[str, Fraction]], bar: Fraction) -> Iterator[str]:
    """The words of a bar of this length, from what stands in it and how long each lasts.

    >>> " ".join(bar_words([("C", Fraction(3)), ("G", Fraction(1))], Fraction(4)))
    'C . . G'
    """
    shares = lcm(*((length / bar).denominator for _, length in pieces))
    for word, length in pieces:
        yield word
        yield from [LONGER] * (int(length / bar * shares) - 1)


def _pieces(chords: Sequence[TimedChord], start: Fraction, end: Fraction) -> Iterator[tuple[str, Fraction]]:
    """What stands in a bar and how long it lasts."""
    at = start
    for begin, length, chord in chords:
        first, last = max(begin, start), min(begin + length, end)
        if last <= first:
            continue
        if first > at:
            yield NO_CHORD, first - at
        yield str(chord) if begin >= start else LONGER, last - first
        at = last
    if at < end:
        yield NO_CHORD, end - at
