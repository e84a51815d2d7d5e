"""A plan laid out in bars: what sounds or rests from when to when, in exact fractions of a quarter note."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.planning.plan import Plan, PlannedStep

#: Times of a plan are floating-point numbers made from fractions with small denominators; this finds them again.
_FINEST: Final = 10_000


@dataclass(frozen=True, slots=True)
class Slot:
    """One chord (or rest, where ``planned`` is None) inside a bar; times in quarter notes from the bar line.

    ``begins`` and ``ends`` say whether the chord starts and stops here or is tied over a bar line.
    """

    start: Fraction
    length: Fraction
    planned: PlannedStep | None
    begins: bool = True
    ends: bool = True

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class Bar:
    """A whole bar: its slots follow one another without a gap. ``number`` counts from 1, ``length`` is in quarters."""

    number: int
    length: Fraction
    slots: tuple[Slot, ...]


def bars_of(plan: Plan) -> tuple[Bar, ...]:
    """All bars of a plan, the last one filled up with rest; a plan without steps is one bar of rest.

    A chord ends, at the latest, where the next begins.
    """
    beats, unit = plan.drill.meter
    quarters = Fraction(4, unit)
    length = beats * quarters
    spans = _spans(plan, quarters)
    end = spans[-1][1] if spans else length
    count = max(1, -(-end // length))
    timeline = _with_rests(spans, count * length)
    bars: list[list[Slot]] = [[] for _ in range(count)]
    for start, stop, planned in timeline:
        for number in range(int(start // length), int(-(-stop // length))):
            line = number * length
            first, last = max(start, line), min(stop, line + length)
            bars[number].append(Slot(first - line, last - first, planned, first == start, last == stop))
    return tuple(Bar(number, length, tuple(slots)) for number, slots in enumerate(bars, start=1))


_Span = tuple[Fraction, Fraction, PlannedStep | None]


def _spans(plan: Plan, quarters: Fraction) -> list[_Span]:
    """(start, end, step) of every chord that has a length, in order."""
    ordered = sorted(plan.steps, key=lambda planned: planned.step.start_beats)
    starts = [_exact(planned.step.start_beats) * quarters for planned in ordered]
    found: list[_Span] = []
    for index, planned in enumerate(ordered):
        stop = _exact(planned.step.start_beats + planned.step.length_beats) * quarters
        if index + 1 < len(ordered):
            stop = min(stop, starts[index + 1])
        if stop > starts[index]:
            found.append((starts[index], stop, planned))
    return found


def _with_rests(spans: list[_Span], end: Fraction) -> list[_Span]:
    found: list[_Span] = []
    now = Fraction(0)
    for span in spans:
        if span[0] > now:
            found.append((now, span[0], None))
        found.append(span)
        now = span[1]
    if end > now:
        found.append((now, end, None))
    return found


def _exact(beats: float) -> Fraction:
    return Fraction(beats).limit_denominator(_FINEST)
