"""What the planner minds, and how much: the prices of a manner of playing, read from ``shared/manners.toml``.

A *manner* is a set of prices that go together: everyday shapes lie low and have the root in the bass, a comping hand
keeps its lines, a chord melody sings on top. The table gives each price in each manner, what is counted, and why.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Any, Final

from listener.data import shared_table

#: Every manner, in the order of the table.
EVERYDAY: Final = "everyday"
COMPING: Final = "comping"
CHORD_MELODY: Final = "chord melody"
VOICE_LEADING: Final = "voice leading"
#: What a fret away from the place counts at least when the player has named a place (our choice).
LIKED: Final = 0.3
#: More than all else that a step minds; where a wish leaves no other way, it is played all the same.
FORBIDDING: Final = 1000.0


@dataclass(frozen=True)
class Weights:
    """What the route search adds up. ``shared/manners.toml`` says of every price what is counted and why.

    ``low_fret`` and ``high_fret`` are no prices: between them the hand likes to lie.
    """

    movement: float = 0.0
    leap: float = 0.0
    travel: float = 0.0
    shift: float = 0.0
    refinger: float = 0.0
    slide: float = 0.0
    place: float = 0.0
    barre: float = 0.0
    stretch: float = 0.0
    strain: float = 0.0
    effort: float = 0.0
    habit: float = 0.0
    position: float = 0.0
    fret: float = 0.0
    open_gap: float = 0.0
    high_open: float = 0.0
    open_inside: float = 0.0
    crossing: float = 0.0
    muted: float = 0.0
    unused: float = 0.0
    cut_top: float = 0.0
    high_bass: float = 0.0
    bass: float = 0.0
    ending: float = 0.0
    minor_ninth: float = 0.0
    semitone: float = 0.0
    low_interval: float = 0.0
    doubled_third: float = 0.0
    doubled_color: float = 0.0
    low_fret: float = 1.0
    high_fret: float = 15.0


@dataclass(frozen=True, slots=True)
class Taste:
    """What a player likes whatever the drill: chords so many frets higher up the neck than usual, and whether open
    strings may sound under a hand at the fifth fret or above without being asked for."""

    register: int = 0
    high_open: bool = True

    def of(self, weights: Weights) -> Weights:
        """The prices as this player minds them."""
        return replace(
            weights,
            low_fret=weights.low_fret + self.register,
            high_fret=weights.high_fret + self.register,
            position=max(weights.position, LIKED) if self.register else weights.position,
            high_open=weights.high_open if self.high_open else FORBIDDING,
        )


#: The prices by name, in the order of the table; all but the two frets.
PRICES: Final = tuple(field.name for field in fields(Weights) if field.name not in ("low_fret", "high_fret"))


def manner_names() -> tuple[str, ...]:
    """The manners that there are."""
    return tuple(shared_table("manners")["manner"])


@cache
def manner(name: str) -> Weights:
    """The prices of a manner by its name; KeyError when there is no such manner."""
    about: dict[str, Any] = shared_table("manners")["manner"][name]
    rows: dict[str, dict[str, Any]] = shared_table("manners")["price"]
    low, high = about["frets"]
    prices = {price: float(rows[price][name]) for price in PRICES}
    return Weights(**prices, low_fret=float(low), high_fret=float(high))
