"""A chord as MusicXML 4.0 says it: a ``kind`` of the standard's list, and degrees added, altered or taken away.

The kinds with their tones stand in ``shared/chord_qualities.toml``; of these the nearest is taken. An added degree is
counted in a dominant chord on the root (type degree-alter of the standard): a plain 7 is the minor seventh.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from listener.music.pitch import parse_degree
from listener.music.quality import Quality, qualities
from listener.tunes.chord_symbols import FUNCTIONAL

_CHANGE_COST: Final = 2
_SUBTRACT_COST: Final = 3
#: Readers do not agree whether an added 7 is minor (as the standard has it) or major, so a kind that has the seventh
#: goes before one that has not; suspended sevenths are then dominant ones with a fourth for their third.
_ADDED_SEVENTH_COST: Final = 10


@dataclass(frozen=True, slots=True)
class DegreeChange:
    """One ``degree``: its number, the alteration in semitones, and ``add``, ``alter`` or ``subtract``."""

    number: int
    alter: int
    how: str


@dataclass(frozen=True, slots=True)
class XmlHarmony:
    """A kind-value of the standard and what changes it."""

    kind: str
    changes: tuple[DegreeChange, ...] = ()


@cache
def harmony_of(quality: Quality) -> XmlHarmony:
    """The standard's words for a quality: the kind that needs the fewest changes, the table's first among equals.

    >>> from listener.music.chord import parse_chord
    >>> harmony_of(parse_chord("C7b9").quality)
    XmlHarmony(kind='dominant', changes=(DegreeChange(number=9, alter=-1, how='add'),))
    """
    if quality.musicxml and quality.musicxml not in FUNCTIONAL:
        return XmlHarmony(quality.musicxml)
    bases = [base for base in qualities() if base.musicxml and base.musicxml not in FUNCTIONAL]
    found = [XmlHarmony(base.musicxml or "", _changes(base, quality)) for base in bases]
    return min(found, key=lambda harmony: sum(map(_cost, harmony.changes)))


def _cost(change: DegreeChange) -> int:
    if change.how == "subtract":
        return _SUBTRACT_COST
    return _ADDED_SEVENTH_COST if (change.number, change.how) == (7, "add") else _CHANGE_COST


def _changes(base: Quality, wanted: Quality) -> tuple[DegreeChange, ...]:
    """What makes ``wanted`` of ``base``; what is taken away comes first."""
    there, goal = _by_number(base), _by_number(wanted)
    found = [DegreeChange(number, 0, "subtract") for number in sorted(there.keys() - goal.keys())]
    for number, wants in sorted(goal.items()):
        has = there.get(number, [])
        if has and has[0] not in wants:
            found.append(DegreeChange(number, wants[0] - has[0], "alter"))
            has = wants[:1]
        found += [_added(number, want) for want in wants if want not in has]
    return tuple(found)


def _added(number: int, alteration: int) -> DegreeChange:
    """Counted in a dominant chord, whose seventh is minor."""
    return DegreeChange(number, alteration + (number == 7), "add")


def _by_number(quality: Quality) -> dict[int, list[int]]:
    """Alterations of the major scale's steps, by the step's number."""
    found: dict[int, list[int]] = {}
    for degree in quality.degrees:
        number, alteration = parse_degree(degree)
        found.setdefault(number, []).append(alteration)
    return found
