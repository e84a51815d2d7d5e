"""Which note values write a length: dots, ties and tuplets, so that the beats of the bar stay visible.

A length of (2^k) quarters, plain or with one dot, is one note; others are tied together. What lies at no half, quarter
or eighth of a beat needs a tuplet over the smallest part of the bar that holds it whole. Where no tuplet over that part
can be read, the bar is cut at its beats, and notes are tied over from tuplet to tuplet. All times are quarters.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from math import gcd, lcm
from typing import Final

#: Names of MusicXML 4.0 (W3C), type note-type-value, by the length in quarters.
TYPES: Final = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
    Fraction(1, 64): "256th",
    Fraction(1, 128): "512th",
    Fraction(1, 256): "1024th",
}
#: Tuplets of more notes than this cannot be read at sight; a beat that needs one has lengths without written values.
MOST_IN_TUPLET: Final = 15


#: From when to when, in quarters from the bar line.
Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes in the time of ``normal``; the brackets stand at the first and last note."""

    actual: int
    normal: int
    begins: bool = False
    ends: bool = False


@dataclass(frozen=True, slots=True)
class Value:
    """One written note: where it starts in the bar, how long it lasts, and how it is written.

    ``type`` is None where no note value says the length.
    """

    start: Fraction
    length: Fraction
    type: str | None
    dots: int = 0
    tuplet: Tuplet | None = None


@dataclass(frozen=True, slots=True)
class _Region:
    """A stretch of the bar: ``count`` equal parts of length ``part``, each of which has ``inside`` parts in turn."""

    start: Fraction
    count: int
    part: Fraction
    inside: int = 2

    @property
    def end(self) -> Fraction:
        return self.start + self.count * self.part

    def opened(self) -> _Region:
        """With at least two parts."""
        if self.count > 1:
            return self
        return _Region(self.start, self.inside, self.part / self.inside)

    @property
    def is_beat(self) -> bool:
        """The smallest part that ties may reach over: an undotted beat, or an eighth of a dotted quarter."""
        return self.count == 1 and self.inside == 2

    def clipped(self, span: Span) -> Span:
        """What of the span lies in here; it ends before it starts if nothing does."""
        return max(span[0], self.start), min(span[1], self.end)

    def split(self, after: int) -> tuple[_Region, _Region]:
        middle = self.start + after * self.part
        return replace(self, count=after), replace(self, start=middle, count=self.count - after)


def bar_region(meter: tuple[int, int]) -> _Region:
    """The bar: its beats are those of the meter, dotted ones in 6/8, 9/8, 12/8."""
    beats, unit = meter
    if unit >= 8 and beats % 3 == 0 and beats > 3:
        return _Region(Fraction(0), beats // 3, Fraction(12, unit), 3)
    return _Region(Fraction(0), beats, Fraction(4, unit))


def beat_length(meter: tuple[int, int]) -> Fraction:
    """The length of a beat: the meter's unit, three of them in 6/8, 9/8, 12/8."""
    return bar_region(meter).part


def write_bar(spans: Sequence[Span], meter: tuple[int, int]) -> list[list[Value]]:
    """The notes, tied together, that write each span (start, end) of a bar; the spans fill it without a gap."""
    found: list[list[Value]] = [[] for _ in spans]
    whole = bar_region(meter)
    for region, ratio in _joined(_parts(whole, spans)):
        inside = [(index, *region.clipped(span)) for index, span in enumerate(spans)]
        there = [(index, first, last) for index, first, last in inside if first < last]
        rows = [_plain(first, last, whole) for _, first, last in there] if ratio is None else None
        if ratio is not None:
            rows = _tuplets([(first, last) for _, first, last in there], region, ratio)
        for (index, first, last), row in zip(there, rows or [[]] * len(there), strict=True):
            found[index] += row or [Value(first, last - first, None)]
    return found


@dataclass(frozen=True, slots=True)
class _Ratio:
    """A tuplet's numbers; ``normal`` is 0 where none is readable."""

    actual: int
    normal: int


def _parts(region: _Region, spans: Sequence[Span]) -> Iterator[tuple[_Region, _Ratio | None]]:
    """The bar cut into stretches without tuplet and stretches that are one tuplet each."""
    spans = [(start, end) for start, end in map(region.clipped, spans) if start < end]
    edges = {start for start, _ in spans} - {region.start}
    if all(_dyadic(edge) for edge in edges):
        yield region, None
        return
    opened = region.opened()
    middle = _half(opened.count)
    after = next((after for after in _cuts(opened.count) if _cuts_well(opened.split(after)[0].end, spans)), None)
    if after is None:
        ratio = _ratio(region, edges)
        if ratio.normal or region.is_beat or any(_odd(edge.denominator) > MOST_IN_TUPLET for edge in edges):
            yield region, ratio
            return
    for side in opened.split(middle if after is None else after):
        yield from _parts(side, spans)


def _cuts(count: int) -> list[int]:
    """After which of the parts a region may be cut, the best first."""
    return sorted(range(1, count), key=lambda after: abs(after - _half(count)))


def _cuts_well(point: Fraction, spans: Iterable[Span]) -> bool:
    """Whether every note that is tied over this point has both its ends where no tuplet is needed."""
    return all(not start < point < end or (_dyadic(start) and _dyadic(end)) for start, end in spans)


def _ratio(region: _Region, edges: Iterable[Fraction]) -> _Ratio:
    whole = region.end - region.start
    actual = _odd(lcm(*(((edge - region.start) / whole).denominator for edge in edges)))
    normal = _odd(whole.numerator)
    # Five beats in fifteen parts are five triplets and not one tuplet.
    readable = actual <= MOST_IN_TUPLET and gcd(actual, normal) == 1
    while normal * 2 <= actual:
        normal *= 2
    return _Ratio(actual, normal if readable else 0)


def _joined(parts: Iterable[tuple[_Region, _Ratio | None]]) -> Iterator[tuple[_Region, _Ratio | None]]:
    """Neighbouring stretches without tuplet as one."""
    for is_plain, group in groupby(parts, key=lambda part: part[1] is None):
        row = list(group)
        if is_plain:
            yield _Region(row[0][0].start, 1, row[-1][0].end - row[0][0].start), None
        else:
            yield from row


def _tuplets(spans: Sequence[Span], region: _Region, ratio: _Ratio) -> list[list[Value]] | None:
    """The notes of each span in a tuplet that fills the region; None where they cannot be written."""
    if not ratio.normal:
        return None
    factor = Fraction(ratio.actual, ratio.normal)
    inner = _Region(Fraction(0), ratio.actual, (region.end - region.start) / ratio.normal)
    rows = []
    for start, end in spans:
        values = _plain((start - region.start) * factor, (end - region.start) * factor, inner)
        if any(value.type is None for value in values):
            return None
        rows.append([_in_tuplet(value, region, ratio, factor) for value in values])
    return rows


def _in_tuplet(value: Value, region: _Region, ratio: _Ratio, factor: Fraction) -> Value:
    start, length = region.start + value.start / factor, value.length / factor
    tuplet = Tuplet(ratio.actual, ratio.normal, start == region.start, start + length == region.end)
    return Value(start, length, value.type, value.dots, tuplet)


def _plain(start: Fraction, end: Fraction, region: _Region) -> list[Value]:
    """Notes without tuplets from start to end, which lie inside the region."""
    length = end - start
    named = _named(length)
    centred = start - region.start == region.end - end and length * 2 == region.end - region.start
    if named is not None and (start == region.start or end == region.end or (centred and not named[1])):
        return [Value(start, length, *named)]
    if region.end - region.start < min(TYPES):
        return [Value(start, length, None)]
    opened = region.opened()
    after = 2 if opened.count == 3 and start == region.start else _half(opened.count)
    left, right = opened.split(after)
    if end <= left.end:
        return _plain(start, end, left)
    if start >= right.start:
        return _plain(start, end, right)
    return [*_plain(start, left.end, left), *_plain(right.start, end, right)]


def _half(count: int) -> int:
    """Where a row of beats is parted: 2+2, 3+2, 3+3, 4+3; three beats after the first."""
    return 1 if count == 3 else (count + 1) // 2


def _named(length: Fraction) -> tuple[str, int] | None:
    """Type and dots of a length that one note writes."""
    if length in TYPES:
        return TYPES[length], 0
    undotted = length * Fraction(2, 3)
    return (TYPES[undotted], 1) if undotted in TYPES else None


def _dyadic(number: Fraction) -> bool:
    return _odd(number.denominator) == 1


def _odd(number: int) -> int:
    """What is left of a number once it is halved as often as can be."""
    return number // (number & -number)
