"""What follows the root of a chord symbol, such as ``-7b5`` or ``maj9#11``, as a quality.

Reading goes left to right. A minus sign right after the root means minor and before a number lowers it, a plus sign
augmented or raised, a capital M, a triangle or the ``^`` of plain text major seventh, and so does the continental
``j7`` (common practice). A size such as 13 implies the thirds below it; an alteration replaces the natural tone
wherever it stands, so ``7(b9,13)`` and ``13b9`` are the same. After a sixth a number is added to it: ``6(9)`` is
``6/9``. A bare ``2`` adds the second and keeps the third (common practice; without its third the chord is ``sus2``).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from itertools import combinations
from typing import Final

from listener.errors import MusicError
from listener.music.pitch import degree_semitones, parse_degree
from listener.music.quality import (
    UPPER,
    Quality,
    compose,
    implied_by,
    quality_named,
    sort_degrees,
    whole_suffixes,
)

#: Greek delta, triangles and the sign for an increment look alike, and so do the rings and the crossed circles below.
_TRIANGLE: Final = "[Δ△∆▲^]"
_MAJOR: Final = r"[Mm]ajor|[Mm]aj|MAJ|MA|[Mm]a(?!d)|M(?![Ii])"
_MINOR: Final = r"[Mm]inor|MIN|[Mm]in|MI|[Mm]i|m|-"
_SIZE: Final = "(7|9|11|13)"
_MAJOR_SEVENTH: Final = rf"(?:{_MAJOR}|{_TRIANGLE}|[#♯](?=7)|j(?=\d)){_SIZE}?"
#: Chords of the table that begin a suffix, and how they are written there, in the order in which they are tried. A size
#: right behind adds the tones that it implies.
_HEAD: Final = (
    ("minor major seventh", re.compile(rf"(?:{_MINOR})/?{_MAJOR_SEVENTH}")),
    ("half-diminished", re.compile(r"(?:[øØ∅⌀]|hdim)7?")),
    ("diminished", re.compile(rf"(?:dim|[°º˚]|o(?!mit)){_SIZE}?")),
    ("major seventh", re.compile(rf"(?:{_TRIANGLE}|j(?=\d)){_SIZE}?")),
    ("added ninth", re.compile(r"2")),
    ("minor added ninth", re.compile(r"m2")),
    ("major seventh", re.compile(rf"(?:{_MAJOR}){_SIZE}")),
    ("major", re.compile(_MAJOR)),
    ("minor", re.compile(_MINOR)),
    ("major", re.compile(r"dom(?=7|9|11|13)")),
    ("augmented", re.compile(r"(?:aug|\+)5?")),
    ("fifth", re.compile(r"5")),
)
#: Words that may follow in any order.
_TAIL: Final = (
    # A slash between numbers only separates them, as in 7(b9/#11).
    ("space", re.compile(r"[\s(),\[\]]+|(?<=\d)/(?=[#♯b♭]?(?:5|6|9|11|13))")),
    ("six nine", re.compile(r"6/9|69|9/6")),
    ("altered", re.compile(r"([#♯b♭+-])(5|9|11|13)|([#♯b♭])(4|6)")),
    ("major size", re.compile(_MAJOR_SEVENTH)),
    ("size", re.compile(r"13|11|9|7|6")),
    ("suspended", re.compile(r"sus(2/?4|4/?2|2|4)?")),
    ("added", re.compile(r"add\s*([#♯b♭]?)(2|4|6|9|11|13)")),
    ("without", re.compile(r"(?:no|omit)\s*(3|5)(?:rd|th)?")),
    ("all altered", re.compile(r"alt\.?")),
    ("augmented", re.compile(r"aug|\+")),
)
_SIGNS: Final = {"": "", "#": "#", "♯": "#", "+": "#", "b": "b", "♭": "b", "-": "b"}


@cache
def _tones(name: str) -> Mapping[int, str]:
    """The tones of a chord in the table by their numbers, 1 to 13."""
    return {parse_degree(degree)[0]: degree for degree in quality_named(name).degrees}


class _Builder:
    """The tones gathered so far while a suffix is read; ``implied`` ones give way to altered ones."""

    def __init__(self) -> None:
        self.implied: set[str] = set()
        self.said: set[str] = set()
        self.bent: set[str] = set()
        self.plain_seventh = _tones("dominant seventh")[7]
        self.begin("major", None)

    def begin(self, name: str, size: str | None) -> None:
        """With the tones of a chord in the table, and those that a size behind it implies."""
        tones = _tones(name)
        self.third, self.fifth, self.seventh = tones.get(3), tones.get(5), tones.get(7)
        self.said.update(degree for number, degree in tones.items() if number > 7)
        if name == "diminished":
            self.plain_seventh = _tones("diminished seventh")[7]
        if size:
            self.size(size, self.seventh or self.plain_seventh)

    def tail(self, word: str, groups: tuple[str | None, ...], text: str) -> None:
        first = groups[0] if groups else None
        if word == "six nine":
            self.sixth()
            self.said.add("9")
        elif word == "altered":
            sign, number = (group for group in groups if group)
            self.alter(_SIGNS[sign], UPPER.get(number, number))
        elif word == "major size":
            self.size(first or "7", _tones("major seventh")[7])
        elif word == "size":
            if text == "6":
                self.sixth()
            elif self.seventh == "6" and text in ("9", "11"):
                self.said.add(text)
            else:
                self.size(text, self.seventh if self.seventh not in (None, "6") else self.plain_seventh)
        elif word == "suspended":
            self.suspend(first or "4")
        elif word == "added":
            self.add(_SIGNS[first or ""], groups[1] or "")
        elif word == "without":
            if first == "3":
                self.third = None
            else:
                self.fifth = None
        elif word == "all altered":
            self.fifth, self.seventh = None, _tones("altered")[7]
            self.said.update(degree for group in quality_named("altered").either for degree in group)
        elif word == "augmented":
            self.fifth = _tones("augmented")[5]

    def size(self, size: str, seventh: str | None) -> None:
        if self.seventh == "6":
            self.said.add("13")
        self.seventh = seventh
        self.implied.update(implied_by(size))

    def sixth(self) -> None:
        if self.seventh is None:
            self.seventh = "6"
        else:
            self.said.add("13")

    def suspend(self, tones: str) -> None:
        """A fourth or a second in place of the third; with both of them the second is called a ninth."""
        if self.third in ("2", "4"):
            tones += self.third
        self.third = "4" if "4" in tones else "2"
        if {"2", "4"} <= set(tones):
            self.said.add("9")

    def add(self, sign: str, number: str) -> None:
        number = UPPER.get(number, number)
        if sign + number == "13":
            self.sixth()
        else:
            self.said.add(sign + number)

    def alter(self, sign: str, number: str) -> None:
        if number == "5" and self.fifth in ("5", None):
            self.fifth = sign + "5"
        else:
            self.said.add(sign + number)
            self.bent.add(number)

    def degrees(self) -> set[str]:
        found = {"1", *self.said, *(self.implied - self.bent)}
        found.update(part for part in (self.third, self.fifth, self.seventh) if part)
        if "4" in found:
            found.discard("11")
        if "2" in found:
            found.discard("9")
        return found


def parse_suffix(suffix: str, *, whole: str | None = None, offset: int = 0) -> Quality:
    """Read what follows the root, such as ``-7b5``; ``whole`` and ``offset`` are for the error's text.

    Raises :class:`MusicError` with the position where reading stopped.

    >>> parse_suffix("7(b9,13)").symbol
    '13b9'
    """
    shown = whole if whole is not None else suffix
    whole_one = whole_suffixes().get(suffix.strip())
    if whole_one is not None:
        return whole_one
    _check_brackets(suffix, shown, offset)
    builder = _Builder()
    position = len(suffix) - len(suffix.lstrip())
    for name, pattern in _HEAD:
        match = pattern.match(suffix, position)
        if match:
            builder.begin(name, match[1] if pattern.groups else None)
            position = match.end()
            break
    while position < len(suffix):
        position = _read_word(builder, suffix, position, shown, offset)
    degrees = sort_degrees(builder.degrees())
    for one, other in combinations(degrees, 2):
        if (degree_semitones(one) - degree_semitones(other)) % 12 == 0:
            raise MusicError(
                f"'{shown}' asks for the same note twice, as {one} and as {other}; leave one of them out",
                text=shown,
                position=max(offset, 0),
            )
    return compose(degrees, suffix.strip())


def _check_brackets(suffix: str, shown: str, offset: int) -> None:
    """Brackets only group for the eye, but one without its partner is a slip of the pen."""
    still_open: list[int] = []
    for place, char in enumerate(suffix):
        if char in "([":
            still_open.append(place)
        elif char in ")]" and (not still_open or suffix[still_open.pop()] != {")": "(", "]": "["}[char]):
            still_open.append(place)
            break
    if still_open:
        place = offset + still_open[-1]
        raise MusicError(
            f"'{shown}' has a bracket without its partner (character {place + 1})", text=shown, position=max(place, 0)
        )


def _read_word(builder: _Builder, suffix: str, position: int, shown: str, offset: int) -> int:
    for word, pattern in _TAIL:
        match = pattern.match(suffix, position)
        if match:
            builder.tail(word, match.groups(), match[0])
            return match.end()
    rest = suffix[position:]
    raise MusicError(
        f"'{shown}' cannot be read from '{rest}' on (character {offset + position + 1}); {_advice(rest)}",
        text=shown,
        position=offset + position,
    )


def _advice(rest: str) -> str:
    """What to write where reading stopped."""
    if not rest.startswith("/"):
        return "a chord is written such as Am7, Cmaj9, G7b9 or Dsus4"
    if rest[1:2] in ("H", "h"):
        return "H is the German name for B: write B, and Bb for the German B"
    bass = re.fullmatch(r"/\s*([a-g][#♯b♭]?)", rest)
    if bass:
        return f"a bass note is a capital; write /{bass[1].capitalize()}"
    return "after a slash comes the bass note, a capital A to G, such as C/E"
