"""The hand: how far its fingers reach along the neck, in mm. Sizes and their reasons are in ``shared/hands.toml``.

Fingers are 1 (index) to 4 (little finger); the thumb does not press strings here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

from listener.data import shared_table
from listener.errors import InstrumentError

#: Fingers that press.
FINGERS: Final = 4
#: The pairs of fingers, in the order of ``Hand.reach_mm``.
PAIRS: Final = ((1, 2), (1, 3), (1, 4), (2, 3), (2, 4), (3, 4))
_PLACE: Final = {pair: index for index, (one, other) in enumerate(PAIRS) for pair in ((one, other), (other, one))}
#: A measured reach outside these bounds is a slip of the pen, not a hand.
REACH_RANGE_MM: Final = (20.0, 200.0)


@dataclass(frozen=True)
class Hand:
    """``reach_mm`` holds the longest distance between two pressing fingers, in the order of :data:`PAIRS`.

    ``barre_strings`` says across how many neighbouring strings fingers 1 to 4 can lie. :func:`make_hand` makes the
    same hand again from its ``name``: a size, or the lengths of a measured hand.
    """

    name: str
    reach_mm: tuple[float, ...]
    barre_strings: tuple[int, ...] = (6, 3, 5, 3)

    def __post_init__(self) -> None:
        low, high = REACH_RANGE_MM
        if len(self.reach_mm) != len(PAIRS):
            raise InstrumentError(
                f"a hand needs {len(PAIRS)} lengths in mm, for the fingers 1-2, 1-3, 1-4, 2-3, 2-4 and 3-4; "
                f"'{self.name}' has {len(self.reach_mm)}"
            )
        for (one, other), reach in zip(PAIRS, self.reach_mm, strict=True):
            if not (math.isfinite(reach) and low <= reach <= high):
                raise InstrumentError(
                    f"a reach of {reach:g} mm between fingers {one} and {other} is not possible; "
                    f"give {low:g} to {high:g} mm"
                )
        if len(self.barre_strings) != FINGERS or min(self.barre_strings) < 1:
            raise InstrumentError("barre_strings needs four whole numbers, 1 or more, for fingers 1 to 4")

    def reach(self, one: int, other: int) -> float:
        """Longest distance in mm along the neck between two different fingers, given in any order."""
        return self.reach_mm[_PLACE[one, other]]

    @property
    def size(self) -> str:
        """Its size in a sentence: ``large``, ``medium``, ``small`` or ``measured``."""
        return self.name if self.name in hand_names() else "measured"

    @property
    def longest_mm(self) -> float:
        """The widest reach of any pair."""
        return max(self.reach_mm)


@dataclass(frozen=True)
class Effort:
    """What makes one finger assignment harder than another; the terms are explained in ``shared/hands.toml``."""

    strain: float
    finger: float
    first_barre: float
    other_barre: float
    arched: float
    crowding: float
    idle: float
    sensible: float


def hand_names() -> tuple[str, ...]:
    """The sizes that have a name, largest first."""
    return tuple(shared_table("hands")["hand"])


def make_hand(name: str = "medium") -> Hand:
    """A hand by its size, or by six measured lengths in mm in the order of :data:`PAIRS`.

    >>> make_hand("60 85 90 60 75 60").reach(1, 4)
    90.0

    Raises :class:`InstrumentError` when it is neither.
    """
    row = shared_table("hands")["hand"].get(name.strip().lower())
    if row is not None:
        return Hand(name.strip().lower(), tuple(map(float, row["reach_mm"])), tuple(row["barre_strings"]))
    words = name.replace(",", " ").split()
    try:
        lengths = tuple(float(word) for word in words)
    except ValueError:
        lengths = ()
    if not lengths:
        raise InstrumentError(
            f"there is no hand '{name}'; name one of {', '.join(hand_names())}, or give six lengths in mm for the "
            f"fingers 1-2, 1-3, 1-4, 2-3, 2-4 and 3-4"
        )
    return Hand(" ".join(f"{length:g}" for length in lengths), lengths)


@cache
def effort() -> Effort:
    """The weights of the finger assignment, from the table."""
    return Effort(**{name: float(value) for name, value in shared_table("hands")["effort"].items()})
