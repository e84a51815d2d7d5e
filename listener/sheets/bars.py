"""A plan laid out in bars: what sounds or rests from when to when, in exact fractions of a quarter note.

Chords may be laid out as they stand in the plan, or as their patterns play them, with a slot for all that is struck at
once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from listener.music.pattern import Placed, exact
from listener.planning.plan import Plan, PlannedStep


@dataclass(frozen=True, slots=True)
class BarSlot:
    """One chord, or what is struck of it at once, or a rest (where ``planned`` is None) inside a bar; times in quarter
    notes from the bar line.

    ``begins`` and ``ends`` say whether it starts and stops here or is tied over a bar line, ``opens`` whether its chord
    begins with it. ``placed`` is its place in the chord's pattern, written without swing, where that is laid out.
    """

    start: Fraction
    length: Fraction
    planned: PlannedStep | None
    begins: bool = True
    ends: bool = True
    opens: bool = True
    placed: Placed | None = None

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        return self.start + self.length

    @property
    def ranks(self) -> tuple[int, ...]:
        """Which voices of the chord sound, from 0, the bass, up."""
        if self.planned is None:
            return ()
        count = len(self.planned.voicing.midi)
        pattern = self.planned.step.pattern
        if self.placed is None or pattern is None:
            return tuple(range(count))
        return pattern.voices(self.placed.place, count)


@dataclass(frozen=True, slots=True)
class Bar:
    """A whole bar: its slots follow one another without a gap. ``number`` counts from 1, ``length`` is in quarters."""

    number: int
    length: Fraction
    slots: tuple[BarSlot, ...]


def bars_of(plan: Plan, *, as_played: bool = False) -> tuple[Bar, ...]:
    """All bars of a plan, the last one filled up with rest; a plan without steps is one bar of rest.

    A chord ends, at the latest, where the next begins. ``as_played`` lays out the patterns.
    """
    beats, unit = plan.drill.meter
    quarters = Fraction(4, unit)
    length = beats * quarters
    spans = _spans(plan, quarters)
    end = spans[-1].stop if spans else length
    if as_played:
        spans = [piece for span in spans for piece in _pieces(span, quarters)]
    count = max(1, -(-end // length))
    bars: list[list[BarSlot]] = [[] for _ in range(count)]
    for span in _with_rests(spans, count * length):
        for number in range(int(span.start // length), int(-(-span.stop // length))):
            line = number * length
            first, last = max(span.start, line), min(span.stop, line + length)
            begins = first == span.start
            opens = begins and span.opens
            ends = last == span.stop
            bars[number].append(BarSlot(first - line, last - first, span.planned, begins, ends, opens, span.placed))
    return tuple(Bar(number, length, tuple(slots)) for number, slots in enumerate(bars, start=1))


@dataclass(frozen=True, slots=True)
class _Span:
    """A chord, a piece of one, or a rest, from when to when in quarters."""

    start: Fraction
    stop: Fraction
    planned: PlannedStep | None
    opens: bool = True
    placed: Placed | None = None


def _spans(plan: Plan, quarters: Fraction) -> list[_Span]:
    """Every chord that has a length, in order."""
    ordered = sorted(plan.steps, key=lambda planned: planned.step.start_beats)
    starts = [exact(planned.step.start_beats) * quarters for planned in ordered]
    found: list[_Span] = []
    for index, planned in enumerate(ordered):
        stop = exact(planned.step.start_beats + planned.step.length_beats) * quarters
        if index + 1 < len(ordered):
            stop = min(stop, starts[index + 1])
        if stop > starts[index]:
            found.append(_Span(starts[index], stop, planned))
    return found


def _pieces(chord: _Span, quarters: Fraction) -> Iterator[_Span]:
    """A chord cut into what its pattern strikes, and its rests; what rings on makes the piece before it longer."""
    step = chord.planned.step if chord.planned is not None else None
    if step is None or step.pattern is None:
        yield chord
        return
    placed = step.pattern.placed(step.start_beats, step.length_beats, straight=True)
    cuts = [(chord.start + one.start_beats * quarters, one) for one in placed]
    cuts = [(start, one) for start, one in cuts if start < chord.stop and (one.place.struck or one.place.rests)]
    stops = [*(start for start, _ in cuts[1:]), chord.stop]
    for (start, one), stop in zip(cuts, stops, strict=False):
        yield _Span(start, stop, chord.planned if one.place.struck else None, start == chord.start, one)


def _with_rests(spans: list[_Span], end: Fraction) -> Iterator[_Span]:
    now = Fraction(0)
    for span in spans:
        if span.start > now:
            yield _Span(now, span.start, None)
        yield span
        now = span.stop
    if end > now:
        yield _Span(now, end, None)
