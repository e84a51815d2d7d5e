"""Roman numerals: a chord by its place in a key.

Upper case is major, lower case minor, ``o`` or ``°`` diminished, ``ø`` half-diminished, ``+`` augmented, whatever the
key would have there: the case decides. Figures are inversions: ``6 64`` of triads, ``7 65 43 42 2`` of sevenths. After
a slash stands the chord that is made a tonic for a moment (``V7/ii``, ``V/V/V``), minor when it is written so.
An inversion becomes the chord's bass tone.

Our readings, where usages differ:

- A bare ``7`` (and ``65 43 42``) on an upper-case numeral is a minor seventh above a major triad, so ``I7`` and ``IV7``
  are the dominant sevenths of a blues, as guitarists write them. Books on classical harmony and music21 take the
  seventh from the key instead; here that chord is ``Imaj7``. On lower-case numerals both agree but for ``o``: ``viio7``
  is fully diminished in major, too.
- ``I6`` is an inversion; the sixth chord is ``Iadd6``.
- In minor, III, VI and VII stand on the natural degrees, and lower-case vi and vii, diminished or not, on the raised
  ones. With a sign, the sign decides: ``bVI`` and ``bVII`` are the natural degrees again (as in major keys on the same
  tonic), ``#vi`` and ``#vii`` the raised ones.
- Suffixes of chord symbols may follow the numeral: ``Vsus4``, ``IVmaj7``, ``V7b9``, ``ii9``, ``I[add9]``; with ``maj``
  also ``IVmaj65``.
- ``N6`` is the chord on the lowered second; augmented sixths (``It6 Fr43 Ger65``) are counted from their bass, the
  lowered sixth of the key, where others see the raised fourth as root.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord, parse_suffix
from listener.music.pitch import Tone
from listener.music.quality import Quality, quality_named
from listener.music.scale import Key

_NUMERAL: Final = re.compile(r"([#♯b♭]{0,2})(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?![IVXiv])")
_NUMBERS: Final = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7}
_NEAPOLITAN: Final = re.compile(r"N(6|64|53)?$")
_AUGMENTED: Final = re.compile(r"(It|Fr|Ger)(?:\+?6|43|65)?$")
_MARK: Final = re.compile(r"o(?!mit)|°|º|dim|ø|Ø|\+|aug")
_MARKS: Final = {"o": "dim", "°": "dim", "º": "dim", "dim": "dim", "ø": "ø", "Ø": "ø", "+": "aug", "aug": "aug"}
_FIGURE: Final = re.compile(r"(?:(maj|M|Δ)(65|43|42|7|2)?|(65|64|53|43|42|7|6|2))?$")
#: A minor sign after a lower-case numeral says the same twice: ``ii-7`` is ``ii7``.
_MINOR_AGAIN: Final = re.compile(r"(?:-|m)(?=6|7|9|11|13)")
_BETWEEN: Final = re.compile(r"/(?!9)")
#: Figure: whether it has a seventh, and which tone lies in the bass.
_FIGURES: Final = {
    "": (False, 0),
    "53": (False, 0),
    "6": (False, 1),
    "64": (False, 2),
    "7": (True, 0),
    "65": (True, 1),
    "43": (True, 2),
    "42": (True, 3),
    "2": (True, 3),
}


@lru_cache(maxsize=2048)
def parse_roman(text: str, key: Key) -> Chord:
    """The chord that a Roman numeral means in a key.

    >>> from listener.music.scale import parse_key
    >>> [parse_roman(word, parse_key("A minor")).symbol for word in ("i", "viio7", "V65/V", "bVII")]
    ['Am', 'G#dim7', 'B7/D#', 'G']

    Raises :class:`MusicError` with the position in the text where reading stopped.
    """
    parts = []
    start = 0
    for slash in _BETWEEN.finditer(text):
        parts.append((text[start : slash.start()], start))
        start = slash.end()
    parts.append((text[start:], start))
    home = key
    for part, position in reversed(parts[1:]):
        home = _tonicised(part, position, text, home)
    return _read(*parts[0], text, home)


def _failed(text: str, position: int, why: str) -> MusicError:
    return MusicError(
        f"'{text}' cannot be read as a Roman numeral at character {position + 1}: {why}", text=text, position=position
    )


def _tonicised(part: str, position: int, text: str, key: Key) -> Key:
    """The key for a moment that the numeral after a slash names."""
    stripped = part.strip()
    match = _NUMERAL.match(stripped)
    if match is None:
        raise _failed(text, position, "after a slash comes a numeral, as in V7/ii")
    mark = _MARK.match(stripped, match.end())
    end = mark.end() if mark else match.end()
    if end < len(stripped):
        begin = position + len(part) - len(part.lstrip()) + end
        raise _failed(text, begin, "the numeral after a slash names a key, so it takes no figures")
    return Key(_root(match[1], match[2], key), "minor" if match[2].islower() else "major")


def _root(signs: str, numeral: str, key: Key) -> Tone:
    number = _NUMBERS[numeral.lower()]
    plain = signs.replace("♯", "#").replace("♭", "b")
    if key.mode == "minor" and number in (3, 6, 7):
        if plain:
            # Signs count from the major scale here; one sharp only confirms the raised degree.
            plain = plain.removeprefix("#")
        elif numeral.isupper() or number == 3:
            plain = "b"
    return key.tonic.at(f"{plain}{number}")


def _read(part: str, position: int, text: str, key: Key) -> Chord:
    stripped = part.strip()
    position += len(part) - len(part.lstrip())
    if not stripped:
        raise _failed(text, position, "a numeral from I to VII is missing")
    special = _special(stripped, key)
    if special is not None:
        return special
    match = _NUMERAL.match(stripped)
    if match is None:
        raise _failed(text, position, "a numeral from I to VII in one case comes first, such as ii or bVII")
    mark = _MARK.match(stripped, match.end())
    end = mark.end() if mark else match.end()
    kind = _MARKS[mark[0]] if mark else ""
    if kind in ("dim", "ø") and match[2].isupper():
        raise _failed(text, position, f"diminished chords are written in lower case, such as {match[2].lower()}o")
    root = _root(match[1], match[2], key)
    head = kind or ("m" if match[2].islower() else "")
    if kind == "aug" and match[2].islower():
        raise _failed(text, position, f"augmented chords are written in upper case, {match[2].upper()}+")
    rest = stripped[end:]
    figure = _FIGURE.match(rest)
    if figure is not None:
        quality, inversion = _figured(head, bool(figure[1]), figure[2] or figure[3] or "")
    else:
        quality, inversion = _suffixed(head, rest, text, position + end), 0
    return _chord(root, quality, inversion)


def _special(stripped: str, key: Key) -> Chord | None:
    """Neapolitan and augmented sixths, or None."""
    match = _NEAPOLITAN.match(stripped)
    if match:
        return _chord(key.tonic.at("b2"), quality_named("major"), _FIGURES[match[1] or ""][1])
    match = _AUGMENTED.match(stripped)
    if match:
        return Chord(key.tonic.at("b6"), parse_suffix(f"{match[1]}6"))
    return None


def _figured(head: str, major: bool, figure: str) -> tuple[Quality, int]:
    """The quality and the place of the bass tone, counted in thirds."""
    seventh, inversion = _FIGURES[figure]
    if major:
        return parse_suffix(f"{head}maj7"), inversion
    return parse_suffix(head + ("7" if seventh and head != "ø" else "")), inversion


def _suffixed(head: str, rest: str, text: str, position: int) -> Quality:
    again = _MINOR_AGAIN.match(rest) if head == "m" else None
    if again:
        rest, position = rest[again.end() :], position + again.end()
    try:
        return parse_suffix(head + rest, whole=text, offset=position - len(head))
    except MusicError as error:
        raise _failed(text, max(error.position, position), _reason(error, text)) from None


def _reason(error: MusicError, text: str) -> str:
    message = str(error)
    return message.removeprefix(f"'{text}' ") if "twice" in message else "neither a figure nor a chord suffix"


def _chord(root: Tone, quality: Quality, inversion: int) -> Chord:
    bass = root.at(quality.degrees[inversion]) if inversion else None
    return Chord(root, quality, bass)
