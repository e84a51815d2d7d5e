"""Chord qualities: which tones a chord has, and which of them may be left out.

The table is ``shared/chord_qualities.toml``. A combination that the table does not hold (``C7b5#9#11``) gets its
policy from the rule in :func:`compose`, the same that the table's rows follow, and its symbol from :func:`symbol_of`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final

from listener.data import shared_table
from listener.music.pitch import degree_semitones, parse_degree

_THIRDS: Final = ("3", "b3", "4", "2")
_SEVENTHS: Final = ("b7", "7", "bb7", "6")
#: Tones added to a chord or altered are called by their place above the octave.
UPPER: Final = {"2": "9", "4": "11", "6": "13"}
#: Tones that make a chord what it is; without them it is another chord.
_IDENTITY: Final = frozenset({*_THIRDS, *_SEVENTHS})
#: Natural tones inside a larger chord, in the order in which they go.
_DROP_ORDER: Final = ("5", "11", "9")


@dataclass(frozen=True)
class Quality:
    """A kind of chord, root left open. Degrees are in thirds from the root up.

    ``either`` holds groups of alternatives, the usual one first: a voicing has one tone of each group, or at least one
    of all.
    ``rarity`` is 0 for everyday chords to 5 for seldom ones; None for those that naming never proposes.
    """

    name: str
    symbol: str
    degrees: tuple[str, ...]
    never: tuple[str, ...]
    optional: tuple[str, ...]
    musicxml: str | None = None
    rarity: int | None = None
    either: tuple[tuple[str, ...], ...] = ()

    @property
    def required(self) -> tuple[str, ...]:
        """Tones that stay unless the drill says that somebody else plays them."""
        may_miss = {*self.never, *self.optional, *(d for group in self.either for d in group)}
        return tuple(d for d in self.degrees if d not in may_miss)

    @cached_property
    def avoided(self) -> tuple[str, ...]:
        """Tones that the standard counts among the chord's and no voicing is built with (common practice).

        A natural eleventh clashes with a major third. Under a thirteenth it is only a rung on the way up; elevenths
        are named after it and keep it.
        """
        return ("11",) if {"3", "11", "13"} <= set(self.degrees) else ()

    @cached_property
    def intervals(self) -> tuple[int, ...]:
        """Semitones above the root modulo the octave, in the order of ``degrees``."""
        return tuple(degree_semitones(degree) % 12 for degree in self.degrees)

    @cached_property
    def interval_set(self) -> frozenset[int]:
        """The same as a set."""
        return frozenset(self.intervals)

    @cached_property
    def _by_interval(self) -> tuple[str | None, ...]:
        """The degree, if there is one, at each of the twelve intervals above the root."""
        found: list[str | None] = [None] * 12
        for degree, semitones in zip(reversed(self.degrees), reversed(self.intervals), strict=True):
            found[semitones] = degree
        return tuple(found)

    def degree_at(self, interval: int) -> str | None:
        """The degree that lies ``interval`` semitones above the root, octaves apart or not."""
        return self._by_interval[interval % 12]


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
            rarity=row.get("rarity"),
            either=tuple(tuple(group.split()) for group in row.get("either", ())),
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


@cache
def whole_suffixes() -> dict[str, Quality]:
    """Suffixes that are read as a whole and not word by word, with what they mean."""
    rows = shared_table("chord_qualities")["quality"]
    return {suffix: quality_named(row["name"]) for row in rows for suffix in row.get("whole", ())}


@cache
def implied_by(size: str) -> tuple[str, ...]:
    """What a size such as 13 adds above the seventh: what the dominant chord of that size has there.

    >>> implied_by("11"), implied_by("7")
    (('9', '11'), ())
    """
    degrees = next(quality.degrees for quality in qualities() if quality.symbol == size)
    return tuple(degree for degree in degrees if parse_degree(degree)[0] > 7)


def sort_degrees(degrees: Iterable[str]) -> tuple[str, ...]:
    """Degrees from the root up: by number, then flats before sharps."""
    return tuple(sorted(set(degrees), key=parse_degree))


def compose(degrees: Iterable[str], symbol: str = "") -> Quality:
    """The table's quality with exactly these degrees, or one made by rule.

    By rule: thirds, suspensions, sixths, sevenths, altered tones and the highest extension never go; natural fifth,
    eleventh and ninth may, in this order, in chords of four tones and more; the rest is required. However it was
    written, the same tones give the same quality; ``symbol`` is used only for tones that no symbol can say.

    >>> compose(["1", "3", "b7", "b13", "b9"]).symbol
    '7b9b13(no5)'
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
    written = symbol_of(ordered) or symbol
    return Quality(written, written, ordered, never, optional)


#: The largest first.
_SIZES: Final = ("13", "11", "9", "7")
_READABLE: Final = frozenset(
    {"1", *_THIRDS, "b5", "5", "#5", *_SEVENTHS, "b9", "9", "#9", "b11", "11", "#11", "b13", "13"}
)


def symbol_of(degrees: Iterable[str]) -> str | None:
    """How these degrees are written after a root, so that the reader of symbols gives them back; None if it cannot.

    >>> symbol_of(["1", "b3", "b5", "b7", "b9", "11"])
    'm11b5b9'
    """
    tones = set(degrees)
    third = _first(_THIRDS, tones)
    seventh = _first(_SEVENTHS, tones)
    if not tones <= _READABLE or len(tones & set(_THIRDS)) > 1 or len(tones & set(_SEVENTHS)) > 1:
        return None
    head, fifth = _head(tones, third, seventh)
    if seventh == "bb7" and head != "dim":
        return None
    rest = {d for d in tones if parse_degree(d)[0] > 7}
    size, added = _size(rest, third, seventh)
    altered = [d for d in sort_degrees(tones) if d in ("b5", "#5") and d != fifth]
    bends = sort_degrees(d for d in rest if parse_degree(d)[1])
    words = [f"add{d}" for d in added]
    if seventh:
        altered.extend(bends)
    else:
        words.extend(f"add{d}" for d in bends)
    if not tones & {"b5", "5", "#5"}:
        words.append("no5")
    if third is None:
        words.append("no3")
    return _joined(head, size, third, "".join(altered), words)


def _first(wanted: tuple[str, ...], tones: set[str]) -> str | None:
    return next((d for d in wanted if d in tones), None)


def _head(tones: set[str], third: str | None, seventh: str | None) -> tuple[str, str]:
    """The word right after the root, and the fifth that it implies."""
    if third == "b3":
        diminished = "b5" in tones and "5" not in tones and seventh in (None, "bb7", "7")
        return ("dim", "b5") if diminished else ("m", "5")
    augmented = third == "3" and "#5" in tones and not tones & {"5", "b5"} and seventh is None
    return ("aug", "#5") if augmented else ("", "5")


def _size(rest: set[str], third: str | None, seventh: str | None) -> tuple[str, list[str]]:
    """The number (with "maj" where needed) that says most of the natural extensions, and those left to add."""
    naturals = sort_degrees(d for d in rest if not parse_degree(d)[1])
    if seventh in (None, "6"):
        if seventh and "9" in naturals:
            return "6/9", [d for d in naturals if d != "9"]
        return seventh or "", list(naturals)
    bent = {str(parse_degree(d)[0]) for d in rest if parse_degree(d)[1]}
    if third in ("4", "2"):
        bent.add(UPPER[third])
    for number in _SIZES:
        said = {d for d in implied_by(number) if d not in bent}
        if said <= set(naturals) and (number in said or number == "7"):
            break
    return ("maj" if seventh == "7" else "") + number, [d for d in naturals if d not in said]


def _joined(head: str, size: str, third: str | None, altered: str, words: list[str]) -> str:
    if head and size.startswith("maj"):
        size = f"({size})"
    suspended = {"4": "sus4", "2": "sus2"}.get(third or "", "")
    if altered and not head and not size:
        altered = f"({altered})"
    return head + size + altered + suspended + (f"({','.join(words)})" if words else "")
