"""Lengths are written as notes that say exactly those lengths, as musicians write them."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate, pairwise
from math import lcm

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.sheets.musicxml.note_values import TYPES, Span, Value, beat_length, write_bar

QUARTERS = {name: length for length, name in TYPES.items()}
METERS = [(4, 4), (3, 4), (2, 4), (5, 4), (7, 4), (9, 4), (7, 8), (11, 8), (13, 8)]
METERS += [(6, 8), (9, 8), (12, 8), (2, 2), (3, 8), (1, 1), (15, 16)]


def written(meter: tuple[int, int], *lengths: str) -> list[str]:
    """Each slot's notes as text: type, a dot for each dot, 3: for a triplet; tied ones joined by +."""
    edges = list(accumulate(map(Fraction, lengths), initial=Fraction(0)))
    return ["+".join(map(_shown, row)) for row in write_bar(list(pairwise(edges)), meter)]


def _shown(value: Value) -> str:
    ratio = f"{value.tuplet.actual}:{value.tuplet.normal} " if value.tuplet else ""
    return f"{ratio}{value.type}{'.' * value.dots}"


@pytest.mark.parametrize(
    ("meter", "lengths", "expected"),
    [
        ((4, 4), ["4"], ["whole"]),
        ((4, 4), ["3", "1"], ["half.", "quarter"]),
        ((4, 4), ["1", "3"], ["quarter", "half."]),
        ((4, 4), ["1", "2", "1"], ["quarter", "half", "quarter"]),
        ((4, 4), ["1/2", "1", "1/2", "2"], ["eighth", "quarter", "eighth", "half"]),
        ((4, 4), ["3/2", "5/2"], ["quarter.", "eighth+half"]),
        ((4, 4), ["5/2", "3/2"], ["half+eighth", "quarter."]),
        ((3, 4), ["3"], ["half."]),
        ((3, 4), ["3/2", "3/2"], ["quarter.", "quarter."]),
        ((6, 8), ["3"], ["half."]),
        ((6, 8), ["3/2", "3/2"], ["quarter.", "quarter."]),
        ((6, 8), ["1", "1", "1"], ["quarter", "eighth+eighth", "quarter"]),
        ((9, 8), ["9/2"], ["half.+quarter."]),
        ((12, 8), ["6"], ["whole."]),
        ((5, 4), ["5"], ["half.+half"]),
        ((7, 8), ["7/2"], ["half+quarter."]),
        ((2, 2), ["4"], ["whole"]),
        ((4, 4), ["2/3", "2/3", "2/3", "2"], ["3:2 quarter"] * 3 + ["half"]),
        ((4, 4), ["4/3", "4/3", "4/3"], ["3:2 half"] * 3),
        ((4, 4), ["1/3", "2/3", "3"], ["3:2 eighth", "3:2 quarter", "half."]),
        ((4, 4), ["4/5"] * 5, ["5:4 quarter"] * 5),
        ((4, 4), ["12/7", "16/7"], ["7:4 half.", "7:4 whole"]),
        ((3, 4), ["3/5"] * 5, ["5:3 quarter"] * 5),
        ((5, 4), ["4/3", "8/3", "1"], ["3:2 half", "3:2 whole", "quarter"]),
        ((4, 4), ["1", "2/3", "2/3", "2/3", "1"], ["quarter", *["3:2 quarter"] * 3, "quarter"]),
        ((5, 4), ["1/3", "14/3"], ["3:2 eighth", "3:2 quarter+whole"]),
        ((9, 4), ["9/10", "18/5", "9/2"], ["5:3 quarter.", "5:3 quarter.+5:3 half+quarter.", "eighth+whole"]),
    ],
)
def test_as_musicians_write(meter: tuple[int, int], lengths: list[str], expected: list[str]) -> None:
    """Beats stay visible, tuplets fill the smallest part of the bar that holds them (common practice)."""
    assert written(meter, *lengths) == expected


_SHARES = st.lists(st.integers(1, 9), min_size=1, max_size=9)
_DIVISORS = st.sampled_from([*range(2, 16), 17, 20, 21, 24, 30, 35])


@st.composite
def _bars(draw: st.DrawFn) -> tuple[tuple[int, int], list[Span]]:
    """A meter and the notes of a bar: shares of the whole bar, or notes that begin at fractions of any beat."""
    meter = draw(st.sampled_from(METERS))
    bar = Fraction(4 * meter[0], meter[1])
    if draw(st.booleans()):
        shares = draw(_SHARES)
        edges = list(accumulate((bar * share / sum(shares) for share in shares), initial=Fraction(0)))
        return meter, list(pairwise(edges))
    inside: set[Fraction] = set()
    for _ in range(draw(st.integers(0, 6))):
        divisor = draw(_DIVISORS)
        inside.add(Fraction(4 * draw(st.integers(1, meter[0] * divisor - 1)), meter[1] * divisor))
    return meter, list(pairwise([Fraction(0), *sorted(inside - {bar}), bar]))


def _without_value(meter: tuple[int, int], spans: list[Span]) -> list[Span]:
    """The beats of the meter that only a tuplet of more than fifteen notes could hold."""
    unit = Fraction(4, meter[1])
    found = []
    for number in range(meter[0]):
        first, last = number * unit, (number + 1) * unit
        parts = lcm(*(((start - first) / unit).denominator for start, _ in spans if first < start < last))
        while parts % 2 == 0:
            parts //= 2
        if parts > 15:
            found.append((first, last))
    return found


@given(_bars())
def test_every_note_says_its_length(bar: tuple[tuple[int, int], list[Span]]) -> None:
    """Type, dots and tuplet of each note give exactly its length, and the notes of a slot fill it.

    Nothing is left without a value but where some beat of the bar has more parts than anybody reads.
    """
    meter, spans = bar
    too_fine = _without_value(meter, spans)
    for (start, end), row in zip(spans, write_bar(spans, meter), strict=True):
        assert row[0].start == start
        assert [one.start + one.length for one in row] == [*(one.start for one in row[1:]), end]
        for value in row:
            if value.type is None:
                assert too_fine
                continue
            length = QUARTERS[value.type] * (Fraction(3, 2) if value.dots else 1)
            if value.tuplet is not None:
                length *= Fraction(value.tuplet.normal, value.tuplet.actual)
                assert value.tuplet.actual <= 15
            assert length == value.length


@given(_bars())
def test_brackets_open_and_close(bar: tuple[tuple[int, int], list[Span]]) -> None:
    """A tuplet that begins ends before the next one does, and no note without a tuplet lies inside."""
    meter, spans = bar
    inside = False
    for value in (value for row in write_bar(spans, meter) for value in row):
        if value.tuplet is None:
            assert not inside
            continue
        assert value.tuplet.begins is not inside
        inside = not value.tuplet.ends
    assert not inside


@pytest.mark.parametrize(("meter", "beat"), [((4, 4), "1"), ((6, 8), "3/2"), ((3, 8), "1/2"), ((2, 2), "2")])
def test_beats(meter: tuple[int, int], beat: str) -> None:
    """The unit of the meter, dotted quarters in 6/8 and its kin."""
    assert beat_length(meter) == Fraction(beat)


def test_a_note_no_value_can_write() -> None:
    """Seventeen in a bar have exact lengths and no written value."""
    rows = write_bar([(Fraction(n, 17), Fraction(n + 1, 17)) for n in range(4 * 17)], (4, 4))
    assert {(value.type, value.length) for row in rows for value in row} == {(None, Fraction(1, 17))}
