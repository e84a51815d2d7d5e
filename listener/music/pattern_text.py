"""Reading a pattern as it is written: ``d . d u . u d u`` for strums, ``1 3 2+4 .`` or ``p i m a`` for picking.

Spaces may be left out, and bar lines are only for the eye. ``p`` is the bass; the other fingers that a pattern names,
``i``, ``m`` and ``a`` in this order, take its highest voices, so that ``p i m`` needs three voices and ``p i m a`` four
(p, i, m, a for thumb, index, middle and ring finger are common practice).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from listener.errors import MusicError
from listener.music.pattern import ACCENT, DOWN, REST, RINGS, UP, Place
from listener.safe_text import echo

STRUM_EXAMPLE: Final = "d . d u . u d u"
PICK_EXAMPLE: Final = "1 3 2 3"
#: More than any bar has; reading stops there.
MOST_PLACES: Final = 500
#: Thumb, index, middle and ring finger, from the bass up.
FINGERS: Final[tuple[str, ...]] = ("p", "i", "m", "a")
_THUMB: Final = FINGERS[0]
_WORD: Final = re.compile(r"[^\s|]+")
_STRUM: Final = re.compile(r">?(?:down|up|rest|[du.-])", re.IGNORECASE | re.ASCII)
_PICK: Final = re.compile(r">?(?:[1-9pima](?:\+[1-9pima])*|rest|[.-])", re.IGNORECASE | re.ASCII)
_STRUMS: Final = {"down": ("d", DOWN), "d": ("d", DOWN), "up": ("u", UP), "u": ("u", UP)}
_SILENT: Final = {"rest": REST, REST: REST, RINGS: RINGS}
_NO_STRUM: Final = "not a stroke; write d (down), u (up), . (let ring) or - (rest), with a > before an accent"
_NO_PICK: Final = (
    "not a voice; write 1 (the bass), 2, 3 and so on, or p, i, m, a, several at once as 1+4, . (let ring) or - (rest), "
    "with a > before an accent"
)


def read_strums(text: str) -> tuple[Place, ...]:
    """The places of a strumming pattern; :class:`MusicError` says which place cannot be read, and why."""
    found: list[Place] = []
    for token, position in _tokens(text, _STRUM, _NO_STRUM):
        word = token.removeprefix(ACCENT)
        if word in _SILENT:
            found.append(_silent(token, text, len(found) + 1, position))
        else:
            sign, strum = _STRUMS[word]
            found.append(Place(sign, strum=strum, accent=token != word))
    return _checked(found, text, STRUM_EXAMPLE)


def read_picks(text: str) -> tuple[Place, ...]:
    """The places of a picking pattern; errors as above."""
    tokens = list(_tokens(text, _PICK, _NO_PICK))
    named = [token.removeprefix(ACCENT).split("+") for token, _ in tokens]
    used = {name for names in named for name in names}
    fingers = [finger for finger in FINGERS[1:] if finger in used]
    voices = {finger: index - len(fingers) for index, finger in enumerate(fingers)}
    voices |= {_THUMB: 1} | {str(number): number for number in range(1, 10)}
    by_finger = bool(fingers) or _THUMB in used
    found: list[Place] = []
    for (token, position), names in zip(tokens, named, strict=True):
        number = len(found) + 1
        if names[0] in _SILENT:
            found.append(_silent(token, text, number, position))
            continue
        if by_finger and any(name.isdecimal() for name in names):
            raise _error(
                number,
                token,
                "a voice by number where others are fingers; write all as 1, 2 or as p, i",
                text,
                position,
            )
        if len(set(names)) < len(names):
            raise _error(number, token, "one voice twice at once", text, position)
        picked = tuple(sorted((voices[name] for name in names), key=lambda voice: (voice < 0, voice)))
        found.append(Place("+".join(names), voices=picked, accent=token.startswith(ACCENT)))
    return _checked(found, text, PICK_EXAMPLE)


def _tokens(text: str, pattern: re.Pattern[str], complaint: str) -> Iterator[tuple[str, int]]:
    """The places as written, lower case, with where each stands in the text."""
    number = 0
    for word in _WORD.finditer(text):
        at = word.start()
        while at < word.end():
            number += 1
            match = pattern.match(text, at, word.end())
            if match is None:
                raise _error(number, text[at : word.end()], complaint, text, at)
            if number > MOST_PLACES:
                raise MusicError(f"has more than {MOST_PLACES} places; no bar has so many", text=text, position=at)
            yield match[0].lower(), at
            at = match.end()


def _silent(token: str, text: str, number: int, position: int) -> Place:
    if token.startswith(ACCENT):
        raise _error(number, token, "an accent on nothing; put the > before a place that is struck", text, position)
    return Place(_SILENT[token])


def _checked(places: list[Place], text: str, example: str) -> tuple[Place, ...]:
    if not places:
        raise MusicError(f'is empty; write for example "{example}"', text=text)
    if not any(place.struck for place in places):
        raise MusicError(f'strikes nothing; write for example "{example}"', text=text)
    return tuple(places)


def _error(number: int, token: str, complaint: str, text: str, position: int) -> MusicError:
    return MusicError(f"place {number}, '{echo(token, 20)}', is {complaint}", text=text, position=position)
