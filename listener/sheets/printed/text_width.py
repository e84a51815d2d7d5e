"""How wide printed text is, near enough to break lines, for any common sans-serif font.

Widths are shares of the font size, and never smaller than in the fonts that a reader has: DejaVu Sans, one of the
widest there is, and Helvetica, which Arial and Liberation Sans follow. Text so measured fits in whatever font is used.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

#: The widest of the advance widths in DejaVu Sans 2.37 and in Adobe's metrics of Helvetica, and of the bold ones over
#: :data:`_BOLD`, rounded up. A letter with accents is as wide as the one without, so most of them need no entry; of the
#: marks only the few that take room are here.
_LETTERS: Final = {
    0.15: "\u031b",
    0.3: "'",
    0.36: " ,./:;I\\ijl|¦·ıł·ΐΙΪίιϊІЇЈіїј‘’‚♮\u00ad",
    0.42: "!()-[]f¡²³¹ſ‐‑‹›",
    0.5: '"*J`rt¨ª¯°´¸ºľŀŧˆˇ˘˙˚˛˜˝Ί♩♭♯\u0488\u0489\u065a',
    0.56: "?_csz§έεζξгзсэѓєѕґ–†‡",
    0.6: "LkvxyĸĿŁΓΰλςυχϋύвтухьў“”„•",
    0.65: "$0123456789FTabdeghnopqu{}¢£¤¥«¶»¿ßðøþđĳŋŦơưΕΞΡΣΤΥΫήβγδηθκνορτόЀЁЃЅГЕЗРТабеийклорчяѐёђќѝҐ‸€√♪",
    0.7: "ABEKPSVXYZµÞďħĲΑΒΔΖΚΛΧάαμσφЄЎАБВСУХЬЭЯнпцћџ∆",
    0.75: "CNRUŊΆΝπψЌЍИЙКЧдъ",
    0.8: "&DGHOQÐØĐΈΗΘΟΠΦΨΩЂЋЏДЛНОПм",
    0.85: "#+<=>^w~¬±×÷ΌωώЦЪы←↑→↓−∞≈≤≥",
    0.92: "MĦŉƠƯΉΎΏΜМФЫжфюљњ♫♬",
    1: "%Wm©®¼½¾Ææшщ—…™",
    1.1: "@ŒœЉЊЖШЮ№",
    1.25: "Щ",
    1.4: "‰",
}
_SHARES: Final = {letter: share for share, letters in _LETTERS.items() for letter in letters}
#: The widest letter of whole alphabets that the fonts above have: first, last, share. What is not even here gets the
#: widest of all, a sleeping face.
_ALPHABETS: Final = (
    (0x0180, 0x024F, 1.46),  # more of Latin
    (0x0370, 0x03FF, 1.1),  # Greek
    (0x0400, 0x052F, 1.4),  # Cyrillic
    (0x0590, 0x05F4, 0.92),  # Hebrew
    (0x0600, 0x06FF, 1.25),  # Arabic
    (0x1F00, 0x1FFF, 1.25),  # Greek with breathings, which stand before their letter
    (0x2190, 0x21FF, 1.0),  # arrows
    (0x2200, 0x22FF, 1.45),  # mathematics
)
_WIDEST: Final = 1.8
#: Chinese, Japanese and Korean are set in squares.
_SQUARE: Final = 1.0
_BOLD: Final = 1.13


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of a line of text, in the unit of ``size``."""
    return sum(map(_thousandths, text)) / 1000 * size * (_BOLD if bold else 1.0)


@lru_cache(4096)
def _thousandths(char: str) -> int:
    """A character's share of the font size; marks that stand over or under a letter have none."""
    share = _SHARES.get(char)
    if share is not None:
        return round(share * 1000)
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0
    if unicodedata.east_asian_width(char) in "WF" and unicodedata.category(char) != "So":
        return round(_SQUARE * 1000)
    share = next((share for first, last, share in _ALPHABETS if first <= ord(char) <= last), None)
    if share is not None:
        return round(share * 1000)
    parts = unicodedata.normalize("NFD", char)
    return sum(map(_thousandths, parts)) if parts != char else round(_WIDEST * 1000)


def wrapped(text: str, size: float, width: float, *, indent: float = 0.0) -> Iterator[str]:
    """The lines of a paragraph; the first begins ``indent`` further in. A word wider than a line is cut."""
    line, room = "", width - indent
    for word in text.split():
        for piece in _pieces(word, size, width):
            longer = f"{line} {piece}" if line else piece
            if text_width(longer, size) <= room:
                line = longer
                continue
            if line or room < width:
                yield line
                room = width
            line = piece
    if line:
        yield line


def _pieces(word: str, size: float, width: float) -> Iterator[str]:
    """The word in pieces that fit on a line, each of at least one letter with its marks."""
    piece = ""
    for char in word:
        if piece and _thousandths(char) and text_width(piece + char, size) > width:
            yield piece
            piece = ""
        piece += char
    yield piece
