"""The player's vocabulary: which voicings were used, how often, and which cells of the map are empty. Pure values.

A *cell* is a kind of voicing with an inversion on a set of strings; beside it stand the family of chords (triads,
sevenths, ninths and up) and the root. A chord counts once for each attempt at a drill's step that was a hit, and once
for as long as it stands in free playing (:mod:`listener.judging.free.stood`). Chords of three different pitches and
more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final, NamedTuple, TypeVar

from listener.history.skills.skill_key import chord_of, parts_of
from listener.music.naming import spell_root
from listener.music.pitch import parse_degree
from listener.music.quality import quality_named
from listener.music.voicing import KINDS, OTHER
from listener.planning.shapes.cells import Cell

_Key = TypeVar("_Key")

TRIADS: Final = "triads"
SEVENTHS: Final = "sevenths and sixths"
LARGER: Final = "ninths and up"
FAMILIES: Final = (TRIADS, SEVENTHS, LARGER)
#: Kinds in the order in which they are shown.
SHOWN_KINDS: Final = (*KINDS, OTHER)
#: A cell is used a lot from this share of all chords on, and from so many of them. Our own choice.
OFTEN_SHARE: Final = 1 / 20
OFTEN_CHORDS: Final = 8
#: The share in words.
OFTEN_WORDS: Final = "one chord in twenty or more"

OFTEN: Final = "a lot"
SELDOM: Final = "a little"
NEVER: Final = "never"


class Used(NamedTuple):
    """One voicing with its root (pitch class, 0 is C) and how many chords it was; ``quality`` as in
    :mod:`listener.history.skills.skill_key`."""

    cell: Cell
    quality: str
    root: int
    chords: int


@dataclass(frozen=True, slots=True)
class CellUse:
    """A cell of the map: how many chords, and in words how much that is."""

    cell: Cell
    chords: int
    level: str

    def as_json(self) -> dict[str, object]:
        """One entry of ``cells``."""
        return {**self.cell.as_json(), "chords": self.chords, "used": self.level}


@dataclass(frozen=True)
class Vocabulary:
    """Everything that was used. ``takes`` are those with a chord that counts; ``unheard`` free takes wait until they
    are listened to (:mod:`listener.history.vocabulary.free_takes`)."""

    used: tuple[Used, ...] = ()
    takes: int = 0
    unheard: int = 0

    @cached_property
    def chords(self) -> int:
        """All of them."""
        return sum(one.chords for one in self.used)

    @cached_property
    def cells(self) -> Mapping[Cell, int]:
        """Chords of each cell that was used."""
        return _summed((one.cell, one.chords) for one in self.used)

    @cached_property
    def families(self) -> Mapping[str, int]:
        """Chords of each family, those without any too."""
        found = _summed((family_of(one.quality), one.chords) for one in self.used)
        return {family: found.get(family, 0) for family in FAMILIES}

    @cached_property
    def roots(self) -> tuple[int, ...]:
        """Chords on each of the twelve roots, from C up in semitones."""
        found = _summed((one.root, one.chords) for one in self.used)
        return tuple(found.get(root, 0) for root in range(12))

    @property
    def often_from(self) -> float:
        """How many chords make a cell one that is used a lot."""
        return max(OFTEN_CHORDS, OFTEN_SHARE * self.chords)

    def level(self, cell: Cell) -> str:
        """:data:`OFTEN`, :data:`SELDOM` or :data:`NEVER`."""
        return self.level_of(self.cells.get(cell, 0))

    def level_of(self, chords: int) -> str:
        """The same for so many chords."""
        return OFTEN if chords >= self.often_from else SELDOM if chords else NEVER

    @cached_property
    def often(self) -> tuple[Cell, ...]:
        """Cells that are used a lot and say where on the neck, the most used first."""
        found = [(cell, chords) for cell, chords in self.cells.items() if chords >= self.often_from and cell.strings]
        return tuple(cell for cell, _ in sorted(found, key=lambda one: (-one[1], one[0].order)))

    def of_cell(self, cell: Cell) -> tuple[Used, ...]:
        """What was used of one cell, the most used first."""
        return tuple(sorted((one for one in self.used if one.cell == cell), key=lambda one: (-one.chords, one[1:3])))

    def missing(self, there_are: Collection[Cell]) -> tuple[Cell, ...]:
        """Of the cells that there are those that were never used, in the order of the map."""
        return tuple(sorted((cell for cell in there_are if cell not in self.cells), key=lambda cell: cell.order))

    def as_json(self, there_are: Collection[Cell]) -> dict[str, object]:
        """``vocabulary`` of the document that ``widehand progress --json`` prints."""
        cells = sorted(self.cells, key=lambda cell: cell.order)
        return {
            "chords": self.chords,
            "takes": self.takes,
            "unheard": self.unheard,
            "families": dict(self.families),
            "roots": [{"root": root_name(root), "chords": chords} for root, chords in enumerate(self.roots)],
            "cells": [CellUse(cell, self.cells[cell], self.level(cell)).as_json() for cell in cells],
            "never": [cell.as_json() for cell in self.missing(there_are)],
        }


def used_from(rows: Iterable[tuple[str, int, int]]) -> tuple[Used, ...]:
    """From keys of skills, roots and numbers of chords; keys that no program writes are passed over."""
    found: dict[tuple[Cell, str, int], int] = {}
    for key, root, chords in rows:
        parts = parts_of(key)
        if parts is not None:
            kind, quality, inversion, strings = parts
            place = (Cell.of(kind, inversion, strings), quality, root)
            found[place] = found.get(place, 0) + chords
    return tuple(Used(*place, chords) for place, chords in sorted(found.items(), key=lambda one: _order(one[0])))


def _order(place: tuple[Cell, str, int]) -> tuple[object, ...]:
    cell, quality, root = place
    return cell.order, quality, root


@cache
def family_of(quality: str) -> str:
    """The family of a chord quality, by its highest tone.

    >>> family_of("maj"), family_of("m7b5"), family_of("6"), family_of("13")
    ('triads', 'sevenths and sixths', 'sevenths and sixths', 'ninths and up')
    """
    highest = max(parse_degree(degree)[0] for degree in chord_of(quality).quality.degrees)
    return LARGER if highest > 7 else SEVENTHS if highest > 5 else TRIADS


@cache
def root_name(root: int) -> str:
    """The name of a root by itself, as that of its major chord.

    >>> [root_name(root) for root in (0, 1, 6, 10)]
    ['C', 'Db', 'F#', 'Bb']
    """
    return str(spell_root(root, quality_named("major")))


def _summed(pairs: Iterable[tuple[_Key, int]]) -> Mapping[_Key, int]:
    found: Counter[_Key] = Counter()
    for key, count in pairs:
        found[key] += count
    return found
