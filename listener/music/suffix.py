"""What follows the root of a chord symbol, such as ``-7b5`` or ``maj9#11``, as a quality.

Reading goes left to right. A minus sign right after the root means minor and before a number lowers it, a plus sign
augmented or raised, a capital M or a triangle major seventh (common practice). A size such as 13 implies the thirds
below it; an alteration replaces the natural tone wherever it stands, so ``7(b9,13)`` and ``13b9`` are the same.
"""

from __future__ import annotations

import re
from itertools import combinations
from typing import Final

from listener.errors import MusicError
from listener.music.pitch import degree_semitones
from listener.music.quality import Quality, compose, quality_named, sort_degrees

#: Quality words that may stand right after the root, in the order in which they are tried.
_HEAD: Final = (
    ("minor major", re.compile(r"(?:min|mi|m/|m|-)(?:Maj|maj|MAJ|ma(?![jd])|M|Δ|△)(7|9|11|13)?")),
    ("half-diminished", re.compile(r"(?:ø|Ø|hdim)7?")),
    ("diminished", re.compile(r"(?:dim|°|º|o(?!mit))(7|9|11|13)?")),
    ("triangle", re.compile(r"(?:Δ|△)(7|9|11|13)?")),
    ("major", re.compile(r"(?:major|Major|maj|Maj|MAJ|ma(?![jd])|Ma|M)(7|9|11|13)?")),
    ("minor", re.compile(r"minor|min|mi|m|-")),
    ("augmented", re.compile(r"(?:aug|\+)5?")),
    ("fifth", re.compile(r"5")),
)
#: Words that may follow in any order.
_TAIL: Final = (
    ("space", re.compile(r"[\s(),\[\]]+")),
    ("six nine", re.compile(r"6/9|69")),
    ("altered", re.compile(r"([#♯b♭+-])(5|9|11|13)")),
    ("major size", re.compile(r"(?:maj|Maj|ma|M|Δ|△)(7|9|11|13)?")),
    ("size", re.compile(r"13|11|9|7|6")),
    ("suspended", re.compile(r"sus(2|4)?")),
    ("added", re.compile(r"add([#♯b♭]?(?:2|4|6|9|11|13))")),
    ("without", re.compile(r"(?:no|omit)(3|5)")),
    ("all altered", re.compile(r"alt")),
    ("augmented", re.compile(r"aug|\+")),
)
#: Whole suffixes for the augmented sixth chords, whose root is the lowered sixth of the key.
_SIXTHS: Final = {
    "It6": "Italian sixth",
    "Fr6": "French sixth",
    "Fr43": "French sixth",
    "Ger6": "German sixth",
    "Ger65": "German sixth",
}
_SIGNS: Final = {"#": "#", "♯": "#", "+": "#", "b": "b", "♭": "b", "-": "b"}
_IMPLIED: Final = {"7": (), "9": ("9",), "11": ("9", "11"), "13": ("9", "11", "13")}


class _Builder:
    """The tones gathered so far while a suffix is read; ``implied`` ones give way to altered ones."""

    def __init__(self) -> None:
        self.third: str | None = "3"
        self.fifth: str | None = "5"
        self.seventh: str | None = None
        self.plain_seventh = "b7"
        self.implied: set[str] = set()
        self.said: set[str] = set()
        self.bent: set[str] = set()

    def head(self, word: str, size: str | None) -> None:
        if word in ("minor major", "half-diminished", "diminished", "minor"):
            self.third = "b3"
        if word in ("half-diminished", "diminished"):
            self.fifth = "b5"
        if word == "half-diminished":
            self.seventh = "b7"
        elif word == "diminished":
            self.plain_seventh = "bb7"
            if size:
                self.size(size, "bb7")
        elif word == "augmented":
            self.fifth = "#5"
        elif word == "fifth":
            self.third = None
        elif word in ("minor major", "triangle"):
            self.size(size or "7", "7")
        elif word == "major" and size:
            self.size(size, "7")

    def tail(self, word: str, groups: tuple[str | None, ...], text: str) -> None:
        first = groups[0] if groups else None
        if word == "six nine":
            self.sixth()
            self.said.add("9")
        elif word == "altered":
            self.alter(_SIGNS[first or ""], groups[1] or "")
        elif word == "major size":
            self.size(first or "7", "7")
        elif word == "size":
            if text == "6":
                self.sixth()
            else:
                self.size(text, self.seventh if self.seventh not in (None, "6") else self.plain_seventh)
        elif word == "suspended":
            self.third = first or "4"
        elif word == "added":
            self.add((first or "").replace("♯", "#").replace("♭", "b"))
        elif word == "without":
            if first == "3":
                self.third = None
            else:
                self.fifth = None
        elif word == "all altered":
            self.fifth, self.seventh = None, "b7"
            self.said.update(("b5", "#5", "b9", "#9"))
        elif word == "augmented":
            self.fifth = "#5"

    def size(self, size: str, seventh: str | None) -> None:
        if self.seventh == "6":
            self.said.add("13")
        self.seventh = seventh
        self.implied.update(_IMPLIED[size])

    def sixth(self) -> None:
        if self.seventh is None:
            self.seventh = "6"
        else:
            self.said.add("13")

    def add(self, tone: str) -> None:
        tone = {"2": "9", "4": "11", "13": "6" if self.seventh is None else "13"}.get(tone, tone)
        if tone == "6":
            self.sixth()
        else:
            self.said.add(tone)

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
    if suffix.strip() in _SIXTHS:
        return quality_named(_SIXTHS[suffix.strip()])
    _check_brackets(suffix, shown, offset)
    builder = _Builder()
    position = len(suffix) - len(suffix.lstrip())
    for word, pattern in _HEAD:
        match = pattern.match(suffix, position)
        if match:
            builder.head(word, match.groups()[0] if match.groups() else None)
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
    raise MusicError(
        f"'{shown}' cannot be read from '{suffix[position:]}' on (character {offset + position + 1})",
        text=shown,
        position=offset + position,
    )
