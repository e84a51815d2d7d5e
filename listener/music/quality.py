"""Chord qualities: which tones a chord has, and which of them may be left out.

The table is ``shared/chord_qualities.toml``. A combination that the table does not hold (``C7b9#11``) gets its
policy from the rule in :func:`compose`, the same that the table's rows follow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final

from listener.data import shared_table
from listener.music.pitch import degree_semitones, parse_degree

#: Tones that make a chord what it is; without them it is another chord.
_IDENTITY: Final = frozenset({"3", "b3", "2", "4", "7", "b7", "bb7", "6"})
#: Natural tones inside a larger chord, in the order in which they go.
_DROP_ORDER: Final = ("5", "11", "9")


@dataclass(frozen=True)
class Quality:
    """A kind of chord, root left open. Degrees are in thirds from the root up."""

    name: str
    symbol: str
    degrees: tuple[str, ...]
    never: tuple[str, ...]
    optional: tuple[str, ...]
    musicxml: str | None = None

    @property
    def required(self) -> tuple[str, ...]:
        """Tones that stay unless the drill says that somebody else plays them."""
        return tuple(d for d in self.degrees if d not in self.never and d not in self.optional)

    @cached_property
    def intervals(self) -> tuple[int, ...]:
        """Semitones above the root modulo the octave, in the order of ``degrees``."""
        return tuple(degree_semitones(degree) % 12 for degree in self.degrees)

    @cached_property
    def interval_set(self) -> frozenset[int]:
        """The same as a set."""
        return frozenset(self.intervals)

    def degree_at(self, interval: int) -> str | None:
        """The degree that lies ``interval`` semitones above the root, octaves apart or not."""
        wanted = interval % 12
        for degree, semitones in zip(self.degrees, self.intervals, strict=True):
            if semitones == wanted:
                return degree
        return None


@cache
def qualities() -> tuple[Quality, ...]:
    """All qualities of the table, simplest first as the table lists them."""
    return tuple(
        Quality(
            name=row["name"],
            symbol=row["symbol"],
            degrees=tuple(row["tones"].split()),
            never=tuple(row["never"].split()),
            optional=tuple(row["optional"].split()),
            musicxml=row.get("musicxml"),
        )
        for row in shared_table("chord_qualities")["quality"]
    )


@cache
def _by_degrees() -> dict[frozenset[str], Quality]:
    return {frozenset(quality.degrees): quality for quality in qualities()}


@cache
def quality_named(name: str) -> Quality:
    """A quality by its name in the table, such as ``"minor seventh"``; KeyError when there is none."""
    return {quality.name: quality for quality in qualities()}[name]


def sort_degrees(degrees: Iterable[str]) -> tuple[str, ...]:
    """Degrees from the root up: by number, then flats before sharps."""
    return tuple(sorted(set(degrees), key=parse_degree))


def compose(degrees: Iterable[str], symbol: str) -> Quality:
    """The table's quality with exactly these degrees, or one made by rule.

    By rule: thirds, suspensions, sixths, sevenths, altered tones and the highest extension never go; natural fifth,
    eleventh and ninth may, in this order, in chords of four tones and more; the rest is required.
    """
    ordered = sort_degrees(degrees)
    known = _by_degrees().get(frozenset(ordered))
    if known is not None:
        return known
    highest = ordered[-1]
    optional = tuple(d for d in _DROP_ORDER if d in ordered and d != highest) if len(ordered) > 3 else ()
    never = tuple(
        d for d in ordered if d not in optional and (d in _IDENTITY or d == highest or parse_degree(d)[1] != 0)
    )
    return Quality(symbol or "major", symbol, ordered, never, optional)
