"""Where a voicing lies on the neck: a string, a fret and a finger for each note."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

#: A hand position is four frets wide; fewer are never drawn, so that shapes can be compared.
_LEAST_DRAWN: Final = 4


@dataclass(frozen=True, slots=True)
class Barre:
    """One finger over several strings at one fret, from the lowest-sounding string to the highest."""

    finger: int
    fret: int
    from_string: int
    to_string: int

    def as_json(self) -> dict[str, int]:
        """The fields of the ``plan`` contract."""
        return {
            "finger": self.finger,
            "fret": self.fret,
            "from_string": self.from_string,
            "to_string": self.to_string,
        }


@dataclass(frozen=True, slots=True)
class Fingering:
    """Notes low to high in pitch; the four tuples are parallel.

    ``stretch_mm`` is the distance along the neck between the lowest and the highest pressing finger (0 with fewer than
    two); ``strain`` is the largest share, 0 to 1, that any pair of fingers uses of its reach in the hand that was asked
    about. ``centre_mm`` is where the hand lies, from the nut, None when only open strings sound. ``effort`` is what the
    fingers cost by ``shared/hands.toml``; the easiest way to hold the same frets saves ``over_best`` of it.
    """

    pitches: tuple[int, ...]
    strings: tuple[int, ...]
    frets: tuple[int, ...]
    fingers: tuple[int, ...]
    barre: Barre | None
    stretch_mm: float
    strain: float
    centre_mm: float | None
    effort: float = 0.0
    over_best: float = 0.0

    @property
    def lowest_fret(self) -> int:
        """Lowest pressed fret, 0 when only open strings sound."""
        return min((fret for fret in self.frets if fret), default=0)

    @property
    def highest_fret(self) -> int:
        """Highest pressed fret."""
        return max(self.frets, default=0)

    @property
    def by_string(self) -> dict[int, int]:
        """The fret on each string that sounds, by the string's number."""
        return dict(zip(self.strings, self.frets, strict=True))

    def written(self, string_count: int) -> tuple[str, ...]:
        """The fret on each string as guitarists write it, from the lowest on; ``x`` where none sounds."""
        frets = self.by_string
        return tuple(str(frets.get(string, "x")) for string in range(string_count, 0, -1))


def fret_window(frets: Iterable[int]) -> tuple[int, int]:
    """The first and last fret that a diagram shows, from the nut on when the shape fits there; 0 is an open string."""
    pressed = [fret for fret in frets if fret]
    highest = max(pressed, default=0)
    first = 1 if highest <= _LEAST_DRAWN else min(pressed)
    return first, max(highest, first + _LEAST_DRAWN - 1)
