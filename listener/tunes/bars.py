"""Chords written out in bars: ``"C | Am7 D7/F# | G . . C | % | N.C."``.

``|`` or a new line ends a bar. What stands in a bar shares it equally; ``.`` makes the chord before it one share
longer, also over a bar line; ``%`` alone in a bar repeats the bar before. This part only reads the writing: what a
chord symbol or numeral means is up to the caller. Times are in bars, as exact fractions.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Final

LONGER: Final = "."
AGAIN: Final = "%"
#: Reading stops after so many chords, and after ten times as many words with the dots counted.
MOST_CHORDS: Final = 10_000
#: Misprints kept; a text with more is no progression.
_MOST_MISPRINTS: Final = 100

_WORD: Final = re.compile(r"\S+")
_EDGE: Final = re.compile(r"[\s|]*")


@dataclass(frozen=True, slots=True)
class Word:
    """Something written in a bar; ``index`` is its place in the whole text, ``bar`` counts from 1."""

    text: str
    index: int
    bar: int


@dataclass(frozen=True, slots=True)
class TimedWord:
    """A word and the time it lasts, in bars from the start."""

    word: Word
    start: Fraction
    length: Fraction


@dataclass(frozen=True, slots=True)
class Misprint:
    """What cannot be read as bars, and where in the text."""

    index: int
    text: str


@dataclass(frozen=True, slots=True)
class Bars:
    """A text read as bars: ``count`` of them, what lasts how long, and what could not be read."""

    timed: tuple[TimedWord, ...]
    count: int
    misprints: tuple[Misprint, ...]


def read_bars(text: str, most: int = MOST_CHORDS, *, of: str = "chord", rest: str = "N.C. for a bar of rest") -> Bars:
    """Read a progression's bars; after ``most`` chords reading stops, and a misprint says so.

    Misprints call what stands in the bars by the name ``of``; ``rest`` is what they tell to write in an empty one.

    >>> [(one.word.text, str(one.start), str(one.length)) for one in read_bars("C | G . . F").timed]
    [('C', '0', '1'), ('G', '1', '3/4'), ('F', '7/4', '1/4')]
    """
    misprints: list[Misprint] = []
    timed: list[TimedWord] = []
    before: list[Word] | None = None
    count = word_count = 0
    for index, piece in _pieces(text):
        count += 1
        found = islice(_WORD.finditer(piece), 10 * most + 1)
        words = [Word(match[0], index + match.start(), count) for match in found]
        if not words:
            misprints.append(Misprint(index, f"bar {count} is empty; write {rest}"))
        if any(word.text == AGAIN for word in words):
            words = _repeated(words, before, misprints)
        word_count += len(words)
        if word_count > 10 * most or len(timed) + sum(word.text != LONGER for word in words) > most:
            misprints.append(Misprint(index, f"bar {count}: here are more than {most:,} {of}s; the rest was not read"))
            break
        if len(misprints) > _MOST_MISPRINTS:
            break
        _lay_out(words, count - 1, timed, misprints, of)
        before = words or before
    return Bars(tuple(timed), count, tuple(misprints))


def _pieces(text: str) -> Iterator[tuple[int, str]]:
    """The bars as (index, text). Bar lines at the ends of a line of text are decoration, ``||`` is one bar line."""
    for line in re.finditer(r"[^\n]+", text):
        begin = _EDGE.match(line[0])
        start = begin.end() if begin else 0
        marks = (index for index in range(len(line[0]), start, -1) if not _EDGE.fullmatch(line[0][index - 1]))
        end = next(marks, start)
        for match in re.finditer(r"[^|]+", line[0][start:end]):
            yield line.start() + start + match.start(), match[0]


def _repeated(words: list[Word], before: list[Word] | None, misprints: list[Misprint]) -> list[Word]:
    sign = next(word for word in words if word.text == AGAIN)
    if len(words) > 1:
        misprints.append(Misprint(sign.index, f"bar {sign.bar}: '%' repeats a whole bar and stands alone in its own"))
        return []
    if before is None:
        misprints.append(Misprint(sign.index, f"bar {sign.bar}: '%' has no bar before it to repeat"))
        return []
    return [Word(word.text, sign.index, sign.bar) for word in before]


def _lay_out(words: list[Word], bar: int, timed: list[TimedWord], misprints: list[Misprint], of: str) -> None:
    """Add the words of one bar (counted from 0) to the timed."""
    for place, word in enumerate(words):
        share = Fraction(1, len(words))
        if word.text != LONGER:
            timed.append(TimedWord(word, bar + place * share, share))
        elif timed:
            timed[-1] = TimedWord(timed[-1].word, timed[-1].start, timed[-1].length + share)
        else:
            misprints.append(Misprint(word.index, f"bar {word.bar}: '.' has no {of} before it to make longer"))
