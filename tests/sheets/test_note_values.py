"""Lengths are written as notes that say exactly those lengths, as musicians write them."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.sheets.note_values import TYPES, Value, beat_length, write_bar

QUARTERS = {name: length for length, name in TYPES.items()}
METERS = [(4, 4), (3, 4), (2, 4), (5, 4), (7, 8), (6, 8), (9, 8), (12, 8), (2, 2), (3, 8), (1, 1), (15, 16)]


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
    ],
)
def test_as_musicians_write(meter: tuple[int, int], lengths: list[str], expected: list[str]) -> None:
    """Beats stay visible, tuplets fill the smallest part of the bar that holds them (common practice)."""
    assert written(meter, *lengths) == expected


_SHARES = st.lists(st.integers(1, 9), min_size=1, max_size=9)


@given(_SHARES, st.sampled_from(METERS))
def test_every_note_says_its_length(shares: list[int], meter: tuple[int, int]) -> None:
    """Type, dots and tuplet of each note give exactly its length, and the notes of a slot fill it."""
    bar = Fraction(4 * meter[0], meter[1])
    edges = list(accumulate((bar * share / sum(shares) for share in shares), initial=Fraction(0)))
    spans = list(pairwise(edges))
    rows = write_bar(spans, meter)
    for (start, end), row in zip(spans, rows, strict=True):
        assert row[0].start == start
        assert sum(value.length for value in row) == end - start
        for value in row:
            if value.type is None:  # a tuplet that nobody reads
                assert max(sum(shares) // 2, 1) > 7
                continue
            length = QUARTERS[value.type] * (Fraction(3, 2) if value.dots else 1)
            if value.tuplet is not None:
                length *= Fraction(value.tuplet.normal, value.tuplet.actual)
            assert length == value.length


@given(_SHARES, st.sampled_from(METERS))
def test_brackets_open_and_close(shares: list[int], meter: tuple[int, int]) -> None:
    """A tuplet that begins ends before the next one does, and no note without a tuplet lies inside."""
    bar = Fraction(4 * meter[0], meter[1])
    edges = list(accumulate((bar * share / sum(shares) for share in shares), initial=Fraction(0)))
    inside = False
    for value in (value for row in write_bar(list(pairwise(edges)), meter) for value in row):
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
