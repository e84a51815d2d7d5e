"""What progress is kept for: the skill that a step of a plan practises, as one text that SQL can group by.

A skill is a voicing kind, a chord quality, an inversion and a string set: ``spread m7b5 1 6-4-3-2``. The root does not
belong to it: a shape that is known is known all over the neck. A change is a pair of skills, that of a step and that of
the step before it, so it needs no text of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord, parse_chord

#: The quality of a plain triad, whose symbol is empty.
_PLAIN: Final = "maj"


def quality_of(chord: str) -> str | None:
    """The quality of a chord symbol as this program writes it, ``maj`` for a plain triad; None when it has none.

    >>> quality_of("F#-7b5/E"), quality_of("C"), quality_of("N.C.")
    ('m7b5', 'maj', None)
    """
    try:
        return parse_chord(chord).quality.symbol or _PLAIN
    except MusicError:
        return None


def chord_of(quality: str) -> Chord:
    """The chord on C of a quality that :func:`quality_of` gave.

    >>> chord_of("m7b5").symbol, chord_of("maj").symbol
    ('Cm7b5', 'C')
    """
    return parse_chord("C" if quality == _PLAIN else f"C{quality}")


def skill_key(kind: str, quality: str | None, inversion: int | None, strings: Iterable[int]) -> str | None:
    """The skill of a step; None where the chord has no quality. ``x`` is the inversion over a foreign bass.

    >>> skill_key("spread", "m7b5", 1, (6, 4, 3, 2))
    'spread m7b5 1 6-4-3-2'
    """
    if quality is None:
        return None
    turned = "x" if inversion is None else str(inversion)
    return f"{kind} {quality} {turned} {'-'.join(map(str, strings))}"


def parts_of(key: str) -> tuple[str, str, int | None, tuple[int, ...]] | None:
    """Kind, quality, inversion and strings of a skill; None for what no program writes, and for a change.

    >>> parts_of("drop 2 m7b5 1 5-4-3-2"), parts_of("spread maj x "), parts_of("nothing")
    (('drop 2', 'm7b5', 1, (5, 4, 3, 2)), ('spread', 'maj', None, ()), None)
    """
    try:
        kind, quality, turned, strings = key.rsplit(" ", 3)
        inversion = None if turned == "x" else int(turned)
        return kind, quality, inversion, tuple(map(int, strings.split("-"))) if strings else ()
    except ValueError:
        return None
