"""Text for messages that may lose everything but ASCII on their way."""

from __future__ import annotations

import unicodedata
from textwrap import wrap
from typing import Final

_SIGNS: Final = str.maketrans(
    {
        "♯": "#",
        "♭": "b",
        "♮": "",
        "𝄪": "x",
        "𝄫": "bb",
        "Δ": "maj",
        "ø": "o",
        "ß": "ss",
        "æ": "ae",
        "Æ": "Ae",
        "Ø": "O",
        "ł": "l",
        "Ł": "L",
        "–": "-",
        "—": "-",
        "‘": "'",
        "’": "'",
        "“": '"',
        "”": '"',
        "…": "...",
    }
)


def ascii_text(text: str) -> str:
    """The text in ASCII without line ends: accents dropped, musical signs spelled out, the rest as question marks.

    >>> ascii_text("Über den Hof: B♭")
    'Uber den Hof: Bb'
    """
    known = unicodedata.normalize("NFKD", text.translate(_SIGNS))
    plain = "".join(char for char in known if not unicodedata.combining(char))
    readable = "".join(char if char.isascii() else "?" for char in plain)
    return "".join(char for char in " ".join(readable.split()) if char.isprintable())


def ascii_lines(text: str, width: int, *, then: str = "") -> list[str]:
    """A paragraph in lines of at most ``width`` characters; ``then`` stands before all but the first."""
    plain = ascii_text(text)
    return wrap(plain, width, subsequent_indent=then) if plain else []
