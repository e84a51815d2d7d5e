"""Cells of the map of voicings: a kind of voicing with an inversion on a set of strings, and which of them there are.

There is a cell where the planner finds a shape without open strings that the hand holds with some room left: such a
shape can be moved along the neck, so it does for every root. Between its strings at most one is muted. Strummed shapes
have their root in the bass and no string muted inside: over other basses everybody plays them with open strings, and
those do not move.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

from listener.drill.drill import Wish
from listener.errors import WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.chord import parse_chord
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, FULL, KINDS, OTHER, SHELL, SPREAD

#: What a step from one cell to another changes.
INVERSION: Final = "inversion"
STRINGS: Final = "strings"

#: Chords that stand for a kind: everyday triads, and everyday sevenths. Inversions run through their tones.
_STAND_FOR: Final[Mapping[str, tuple[str, ...]]] = {
    **dict.fromkeys((CLOSE, SPREAD), ("", "m")),
    **dict.fromkeys((SHELL, DROP_2, DROP_3, DROP_2_4), ("maj7", "7", "m7")),
    FULL: ("", "m"),
}
#: Two roots half an octave apart and an octave of frets: each movable shape comes at one place at least, away from the
#: nut, where frets are widest. Our own choice.
_ROOTS: Final = ("C", "F#")
_FRETS: Final = (3, 15)
#: The share of the hand's reach that a shape may take to be on the map. Our own choice: what is at the limit is nothing
#: that anybody ought to miss.
ROOMY: Final = 0.8
_ORDER: Final = {kind: place for place, kind in enumerate((*KINDS, OTHER))}


class Cell(NamedTuple):
    """``strings`` from the lowest (6) to the highest (1), empty where they are not known; ``inversion`` is None over a
    foreign bass."""

    kind: str
    inversion: int | None
    strings: tuple[int, ...]

    @classmethod
    def of(cls, kind: str, inversion: int | None, strings: Iterable[int]) -> Cell:
        """The cell of a shape, in whatever order its strings come."""
        return cls(kind, inversion, tuple(sorted(strings, reverse=True)))

    @property
    def order(self) -> tuple[int, int, tuple[int, ...]]:
        """Where it stands on the map: by kind, inversion, and strings from the lowest; foreign basses and unknown
        strings last."""
        inversion = 99 if self.inversion is None else self.inversion
        return _ORDER.get(self.kind, len(_ORDER)), inversion, strings_order(self.strings)

    @property
    def where(self) -> str:
        """Its strings in words, ``6-4-3``; empty where they are not known."""
        return strings_words(self.strings)

    def as_json(self) -> dict[str, object]:
        """Its fields."""
        return {"kind": self.kind, "inversion": self.inversion, "strings": list(self.strings)}


def strings_words(strings: Iterable[int]) -> str:
    """A set of strings as it is written: ``6-4-3``."""
    return "-".join(map(str, strings))


def strings_order(strings: tuple[int, ...]) -> tuple[int, ...]:
    """What sets of strings are sorted by: the low ones first, unknown ones last."""
    return tuple(-string for string in strings) or (0,)


def step_between(one: Cell, other: Cell) -> str | None:
    """What changes from one cell to another that lies beside it; None where they are not neighbours.

    :data:`INVERSION`: the next one up or down, on the same strings. :data:`STRINGS`: the same inversion with every
    string one further over, or with a single string exchanged for the one beside it.
    """
    if one.kind != other.kind or one.inversion is None or other.inversion is None:
        return None
    if one.strings == other.strings:
        return INVERSION if abs(one.inversion - other.inversion) == 1 else None
    if one.inversion != other.inversion or len(one.strings) != len(other.strings):
        return None
    moved = [there - here for here, there in zip(one.strings, other.strings, strict=True)]
    over = len(set(moved)) == 1 and abs(moved[0]) == 1
    return STRINGS if over or sorted(map(abs, moved))[-2:] == [0, 1] else None


@lru_cache(maxsize=8)
def cells_there_are(instrument: Instrument, hand: Hand) -> frozenset[Cell]:
    """The map for a guitar and a hand; empty where the guitar has too few frets or strings for any of it."""
    return frozenset(cell for kind in KINDS for cell in _of_kind(kind, instrument, hand))


def _of_kind(kind: str, instrument: Instrument, hand: Hand) -> Iterable[Cell]:
    from listener.planning.shapes.candidates import candidates  # needs numpy, which only those load who ask for the map

    # Counted from the capo.
    low, high = max(1, _FRETS[0] - instrument.capo), min(_FRETS[1], instrument.highest_fret)
    for quality in _STAND_FOR[kind]:
        for root in _ROOTS:
            wish = Wish(parse_chord(root + quality), (kind,), frets=(low, high), open_strings=False)
            try:
                found = candidates(wish, instrument, hand)
            except WidehandError:
                continue
            for candidate in found:
                shape, voicing = candidate.fingering, candidate.voicing
                cell = Cell.of(kind, voicing.inversion, shape.strings)
                apart = max(one - other for one, other in pairwise(cell.strings))
                moves = apart == 1 and cell.inversion == 0 if kind == FULL else apart <= 2
                if moves and shape.strain <= ROOMY:
                    yield cell
