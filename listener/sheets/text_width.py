"""How wide printed text is, near enough to break lines, for any common sans-serif font.

Widths are shares of the font size, measured generously (those of DejaVu Sans, one of the widest, from memory), so that
text fits in whatever font the reader has.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

_NARROW: Final = dict.fromkeys("iljI.,;:'|!", 0.34) | dict.fromkeys("ftr()[]/- ", 0.42)
_WIDE: Final = dict.fromkeys("mMW", 0.95) | dict.fromkeys("w%@", 0.86)
_CAPITAL: Final = 0.74
_OTHER: Final = 0.62
_BOLD: Final = 1.13


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of a line of text, in the unit of ``size``."""
    share = sum(_NARROW.get(char) or _WIDE.get(char) or (_CAPITAL if char.isupper() else _OTHER) for char in text)
    return share * size * (_BOLD if bold else 1.0)


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
    while text_width(word, size) > width and len(word) > 1:
        count = max(1, int(len(word) * width / text_width(word, size)) - 1)
        while count > 1 and text_width(word[:count], size) > width:  # its beginning has the widest letters
            count -= 1
        yield word[:count]
        word = word[count:]
    yield word
