"""Patterns: how a chord is played in time, place by place: strums down and up, or voices that are picked.

All places of a pattern are equally long, a note value; ``swing`` makes the first of each two longer. A pattern goes
round and round, and begins anew at every bar line or with every chord (:data:`OVERS`). Times are exact: beats, the
unit of the meter, as fractions.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

DOWN: Final = "down"
UP: Final = "up"
#: How places are written in which nothing is struck: what sounds rings on, or the strings are stopped. The same signs
#: as in the rhythm of a riff.
RINGS: Final = "."
REST: Final = "-"
#: Stands before a place that is played louder than the others.
ACCENT: Final = ">"

#: A pattern begins anew with each bar, or with each chord.
OVER_BAR: Final = "bar"
OVER_CHORD: Final = "chord"
OVERS: Final = (OVER_BAR, OVER_CHORD)

#: The lengths that a place may have, as note values, and what players call so many of them.
PLACE_WORDS: Final = {
    "1/2": "half notes",
    "1/4": "quarters",
    "1/8": "eighths",
    "1/16": "sixteenths",
    "1/6": "triplet quarters",
    "1/12": "triplet eighths",
    "1/24": "triplet sixteenths",
}
STRAIGHT: Final = Fraction(1, 2)
#: Times of a plan are floating-point numbers made from fractions with small denominators; this finds them again.
_FINEST: Final = 10_000
#: How the parts of a beat are counted aloud: "two and", "two e and a", "two trip let" (common practice).
_COUNTED: Final = {
    Fraction(1, 2): "and",
    Fraction(1, 4): "e",
    Fraction(3, 4): "a",
    Fraction(1, 3): "trip",
    Fraction(2, 3): "let",
}


def exact(beats: float | Fraction) -> Fraction:
    """A time of a plan as the fraction that it was made from."""
    return beats if isinstance(beats, Fraction) else Fraction(beats).limit_denominator(_FINEST)


def count_words(count: Fraction) -> str:
    """How a moment of the bar is counted; ``count`` is in beats from the bar line.

    >>> count_words(Fraction(1)), count_words(Fraction(3, 2)), count_words(Fraction(11, 4)), count_words(Fraction(7, 6))
    ('2', '2-and', '3-a', '2+1/6')
    """
    beat, part = divmod(count, 1)
    if not part:
        return str(beat + 1)
    return f"{beat + 1}-{_COUNTED[part]}" if part in _COUNTED else f"{beat + 1}+{part}"


def least_voices(voices: Iterable[int]) -> int:
    """How many voices a chord must have so that each of these is another one of its voices."""
    named = {0, *voices}
    return max(named) - min(named)


def ranks(voices: Iterable[int], count: int) -> tuple[int, ...]:
    """Voices counted from 1 (the bass, up) or -1 (the top, down) as ranks from 0 up, among ``count`` voices; those that
    there are.

    >>> ranks((1, -1), 4), ranks((4,), 3)
    ((0, 3), ())
    """
    found = {voice - 1 if voice > 0 else count + voice for voice in voices}
    return tuple(sorted(rank for rank in found if 0 <= rank < count))


@dataclass(frozen=True, slots=True)
class Place:
    """One place. ``sign`` is how it is written, without its accent.

    ``strum`` is :data:`DOWN` or :data:`UP` for a strum, else empty. ``voices`` are those that are picked: counted from
    1, the bass, up, or from -1, the top, down. Where both are empty nothing is struck.
    """

    sign: str
    strum: str = ""
    voices: tuple[int, ...] = ()
    accent: bool = False

    @property
    def struck(self) -> bool:
        """Something begins to sound here."""
        return bool(self.strum or self.voices)

    @property
    def rests(self) -> bool:
        """The strings are stopped here."""
        return self.sign == REST

    def __str__(self) -> str:
        return f"{ACCENT if self.accent else ''}{self.sign}"


@dataclass(frozen=True, slots=True)
class Placed:
    """A place as it falls in a chord. ``number`` is its index in the pattern.

    ``start_beats`` counts from the beginning of the chord, ``length_beats`` goes to the next place or the end of the
    chord, both with the swing. ``count`` is where it is counted, without the swing, in beats from the line of its bar;
    ``bar`` is how many bar lines lie between the chord's first bar and it.
    """

    place: Place
    number: int
    start_beats: Fraction
    length_beats: Fraction
    count: Fraction
    bar: int = 0

    @property
    def end_beats(self) -> Fraction:
        """Where the next place begins."""
        return self.start_beats + self.length_beats

    @property
    def counted(self) -> str:
        """Its place in the bar as it is counted aloud: ``2-and``."""
        return count_words(self.count)


@dataclass(frozen=True, slots=True)
class Pattern:
    """``place`` is the length of a place as a part of a whole note, ``meter`` beats in a bar and their unit.

    ``swing`` is the share of each two places that the first one takes, 1/2 where all are alike.
    """

    places: tuple[Place, ...]
    place: Fraction = Fraction(1, 8)
    meter: tuple[int, int] = (4, 4)
    over: str = OVER_BAR
    swing: Fraction = STRAIGHT

    @property
    def place_beats(self) -> Fraction:
        """The length of a place in beats, without the swing."""
        return self.place * self.meter[1]

    @property
    def is_strummed(self) -> bool:
        """Strums and not picked voices."""
        return any(place.strum for place in self.places)

    @property
    def least_voices(self) -> int:
        """How many voices a chord must have for it."""
        return least_voices(voice for place in self.places for voice in place.voices)

    def voices(self, place: Place, count: int) -> tuple[int, ...]:
        """Which of the ``count`` voices of a chord a place strikes, from 0, the bass, up; those that there are."""
        return tuple(range(count)) if place.strum else ranks(place.voices, count)

    def placed(
        self, start_beats: float | Fraction, length_beats: float | Fraction, *, straight: bool = False
    ) -> tuple[Placed, ...]:
        """All places of a chord that begins so many beats after a bar line (or after the beginning of the drill).

        ``straight`` leaves out the swing, for what is written and not played.
        """
        return _placed(self, exact(start_beats) % self.meter[0], exact(length_beats), straight)

    def __str__(self) -> str:
        """As it is written in a drill file."""
        return " ".join(map(str, self.places))

    @property
    def words(self) -> str:
        """How it is played, for players: ``strummed in eighths, anew in each bar: down, let ring, down, up``."""
        how = "strummed" if self.is_strummed else "picked"
        values = PLACE_WORDS.get(f"{self.place.numerator}/{self.place.denominator}", f"places of {self.place}")
        swung = (
            f", swung {round(100 * self.swing)} to {100 - round(100 * self.swing)}" if self.swing != STRAIGHT else ""
        )
        anew = "in each bar" if self.over == OVER_BAR else "with each chord"
        return f"{how} in {values}{swung}, anew {anew}: {', '.join(map(_place_words, self.places))}"

    def as_json(self) -> dict[str, object]:
        """As the drill file has it."""
        place = f"{self.place.numerator}/{self.place.denominator}"
        kind = "strum" if self.is_strummed else "pick"
        return {kind: str(self), "place": place, "over": self.over, "swing": round(float(self.swing), 4)}


def _place_words(place: Place) -> str:
    word = place.strum or {RINGS: "let ring", REST: "rest"}.get(place.sign, place.sign)
    return f"{word} (accent)" if place.accent else word


@lru_cache(maxsize=1024)
def _placed(pattern: Pattern, start: Fraction, length: Fraction, straight: bool) -> tuple[Placed, ...]:
    """``start`` lies in the first bar. A place that begins before the chord, and lasts into it, is none of its own."""
    bar_beats, end = pattern.meter[0], start + length
    found: list[tuple[int, Fraction, Fraction]] = []
    origin = Fraction(0) if pattern.over == OVER_BAR else start
    while origin < end:
        until = min(end, origin + bar_beats) if pattern.over == OVER_BAR else end
        for index in range(-(-(until - origin) // pattern.place_beats)):
            counted = origin + index * pattern.place_beats
            late = 2 * pattern.place_beats * (pattern.swing - STRAIGHT) if index % 2 and not straight else 0
            if start <= counted and counted + late < end:
                found.append((index % len(pattern.places), counted, counted + late))
        origin = until
    ends = [*(sounds for _, _, sounds in found[1:]), end]
    return tuple(
        Placed(
            pattern.places[number],
            number,
            sounds - start,
            until - sounds,
            counted % bar_beats,
            int(counted // bar_beats),
        )
        for (number, counted, sounds), until in zip(found, ends, strict=False)
    )
