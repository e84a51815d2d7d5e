"""A progression on one line, as somebody types it: ``C | Am7 D7/F# | G`` or ``I | vi7 V65/V | V``.

The writing is that of drill files (:mod:`listener.tunes.bars`). What cannot be read is shown under the line, with a
mark below the place where reading stopped.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord, is_no_chord, parse_chord
from listener.music.roman import parse_roman
from listener.music.scale import Key
from listener.safe_text import printable
from listener.tunes.bars import AGAIN, Bars, read_bars

CHORDS: Final = "chords"
NUMERALS: Final = "numerals"
#: Longer lines are no line that anybody types; a drill file holds more.
MOST_CHARACTERS: Final = 20_000
#: Faults that are shown; more would only scroll the first ones away.
_MOST_FAULTS: Final = 5
#: Characters of the line that are shown with a fault.
_SHOWN: Final = 72
_NUMERAL: Final = re.compile(r"[#b♯♭]{0,2}(?:[IV]+|[iv]+)(?![A-Za-z]*[a-h]\d?\b)|N6|It6|Fr(?:6|43)|Ger6")
#: What people write in charts that has another sign here.
_OTHER_SIGNS: Final = (
    (re.compile(r"/+|-+|\*"), "a chord that lasts on is written with a dot, as in C . . G"),
    (re.compile(r".*:.*|\{|\}|\[|\]"), "repeat signs are not read; write the bars out, or write % to repeat a bar"),
    (re.compile(r"\d{1,2}/\d{1,2}"), "the meter is given apart, as in --meter 3/4"),
    (re.compile(r"[,;]+"), "write | between bars and spaces between chords"),
)


@dataclass(frozen=True, slots=True)
class LineChord:
    """A chord of the line; start and length in bars."""

    start: Fraction
    length: Fraction
    chord: Chord


@dataclass(frozen=True, slots=True)
class ChordLine:
    """A line that was read. ``notation`` is :data:`CHORDS` or :data:`NUMERALS`, also the name of the drill's field."""

    text: str
    notation: str
    chords: tuple[LineChord, ...]
    bars: int


@dataclass(frozen=True, slots=True)
class Misread:
    """What cannot be read, and where in the text."""

    index: int
    text: str


def read_chord_line(text: str, key: Key | None = None) -> ChordLine:
    """Read a line of chord symbols, or of Roman numerals in ``key``.

    >>> [str(one.chord) for one in read_chord_line("C | Am7 D7/F# | %").chords]
    ['C', 'Am7', 'D7/F#', 'Am7', 'D7/F#']

    Raises :class:`MusicError` with all that is wrong (the first five faults), each under its place in the line.
    """
    if len(text) > MOST_CHARACTERS:
        raise MusicError(f"a chord line of {len(text):,} characters is too long; write it into a drill file")
    text = printable(text, keep="\n")
    bars = read_bars(text)
    words = [timed.word.text for timed in bars.timed]
    if not bars.misprints and all(map(is_no_chord, words)):
        raise MusicError('there is no chord; write for example "C | Am7 D7 | G"', text=text)
    notation = NUMERALS if any(_NUMERAL.match(word) for word in words) else CHORDS
    if notation == NUMERALS and key is None:
        raise MusicError("Roman numerals need a key, such as --key G", text=text)
    chords, faults = _read(bars, _reader(notation, key))
    if faults:
        raise MusicError(_complaint(text, faults), text=text, position=faults[0].index)
    return ChordLine(_tidy(text), notation, chords, bars.count)


def _reader(notation: str, key: Key | None) -> Callable[[str], Chord]:
    if notation == CHORDS or key is None:
        return parse_chord
    return lambda word: parse_roman(word, key)


def _read(bars: Bars, read: Callable[[str], Chord]) -> tuple[tuple[LineChord, ...], list[Misread]]:
    faults = {Misread(one.index, one.text): None for one in bars.misprints}
    chords: list[LineChord] = []
    for timed in bars.timed:
        word = timed.word
        if is_no_chord(word.text):
            continue
        try:
            chords.append(LineChord(timed.start, timed.length, read(word.text)))
        except MusicError as error:
            at = word.index + min(max(error.position, 0), len(word.text) - 1)
            faults[Misread(at, f"bar {word.bar}: {_hint(word.text) or error}")] = None
    # A bar that is repeated with % has its faults once: they stand where it was written.
    return tuple(chords), sorted(faults, key=lambda fault: fault.index)


def _hint(word: str) -> str:
    said = next((hint for sign, hint in _OTHER_SIGNS if sign.fullmatch(word)), "")
    return f"'{word}': {said}" if said else ""


def _complaint(text: str, faults: Sequence[Misread]) -> str:
    shown = [fault for fault in faults if text[fault.index : fault.index + 1] != AGAIN] or list(faults)
    first = shown[0].text if len(shown) == 1 else f"{len(shown)} places in the chords cannot be read"
    lines = [first]
    for fault in shown[:_MOST_FAULTS]:
        lines += (f"  {line}" for line in under(text, fault.index))
        if len(shown) > 1:
            lines.append(f"  {fault.text}")
    if len(shown) > _MOST_FAULTS:
        lines.append(f"  and {len(shown) - _MOST_FAULTS} more")
    return "\n".join(lines)


def under(text: str, index: int) -> Iterator[str]:
    """The line of the text that holds this place, or the part of it round about, and a mark below the place."""
    begin = text.rfind("\n", 0, index) + 1
    end = text.find("\n", index)
    line, at = text[begin : end if end >= 0 else len(text)], index - begin
    if len(line) > _SHOWN:
        first = max(0, min(at - _SHOWN // 2, len(line) - _SHOWN))
        before, after = "..." if first else "", "..." if first + _SHOWN < len(line) else ""
        line, at = f"{before}{line[first : first + _SHOWN]}{after}", at - first + len(before)
    yield line
    yield " " * sum(map(_cells, line[:at])) + "^"


def _cells(char: str) -> int:
    """How wide a terminal draws a character."""
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def _tidy(text: str) -> str:
    """The same with single spaces; bars that stand on lines of their own stay there."""
    return "\n".join(filter(None, (" ".join(line.split()) for line in text.splitlines())))
