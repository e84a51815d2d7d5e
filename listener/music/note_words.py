"""Notes as somebody writes them down: names with their octaves, and MIDI numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from listener.errors import MusicError
from listener.music.pitch import parse_pitch, parse_tone

#: What has more digits is no note, and Python refuses to read thousands of them.
_MOST_DIGITS: Final = 20
_BLACK_KEY: Final = re.compile(r"[A-Ga-g]([#♯x]|[b♭])")


def parse_notes(words: Sequence[str]) -> tuple[int, ...]:
    """MIDI notes, low to high, from names with octave (``E4``, ``Bb3``) and MIDI numbers, also joined by commas.

    >>> parse_notes(["C3,Bb3", "64"])
    (48, 58, 64)

    None at all for words without a note. Raises :class:`MusicError` naming the bad word.
    """
    return tuple(sorted(map(_parse_note, _split(words))))


def _split(words: Sequence[str]) -> list[str]:
    return [word for piece in words for word in re.split(r"[\s,]+", piece) if word]


def _parse_note(word: str) -> int:
    if re.fullmatch(r"[+-]?\d+", word):
        number = int(word) if len(word) <= _MOST_DIGITS else 128
        if not 0 <= number <= 127:
            raise MusicError(f"'{word}' is not a MIDI note; they run from 0 to 127 (60 is C4)", text=word)
        return number
    try:
        return parse_pitch(word).midi
    except MusicError:
        if _is_name(word):
            problem = f"'{word}' needs its octave, as in E4 or Bb3; or write a MIDI number from 0 to 127"
        else:
            problem = (
                f"'{word}' is not a note; write a name with its octave, such as E4 or Bb3, "
                "or a MIDI number from 0 to 127"
            )
        raise MusicError(problem, text=word) from None


def _is_name(word: str) -> bool:
    try:
        parse_tone(word)
    except MusicError:
        return False
    return True


def wants_flats(words: Sequence[str]) -> bool | None:
    """How the player spells black keys: True with flats only, False with sharps only, None when nothing tells."""
    signs = {match[1] in "b♭" for word in _split(words) if (match := _BLACK_KEY.match(word))}
    return signs.pop() if len(signs) == 1 else None
