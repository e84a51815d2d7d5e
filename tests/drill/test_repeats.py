"""Bars that come again, folded."""

from __future__ import annotations

from itertools import chain, repeat

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.exercises.progression import MOST_TIMES
from listener.drill.making.repeats import Fold, folded


@pytest.mark.parametrize(
    ("bars", "passages"),
    [
        ("", []),
        ("ab", [Fold(0, 2, 1)]),
        ("aab", [Fold(0, 3, 1)]),
        ("abcdabcd", [Fold(0, 4, 2)]),
        ("xabababy", [Fold(0, 1, 1), Fold(1, 3, 3), Fold(7, 8, 1)]),
        ("aaaa", [Fold(0, 1, 4)]),
    ],
)
def test_passages(bars: str, passages: list[Fold]) -> None:
    """One bar that comes twice is not worth a passage of its own; two are."""
    assert folded(bars, [True] * len(bars)) == passages


def test_no_passage_begins_while_a_chord_rings_on() -> None:
    """The last bar rings on from the one before, so that one stays with it."""
    assert folded("abababr", [True] * 6 + [False]) == [Fold(0, 2, 2), Fold(4, 7, 1)]


def test_no_passage_comes_more_often_than_a_drill_may_say() -> None:
    """However many bars are alike: ten bars 101 times would save most, but that is no drill."""
    found = folded("a" * 1010, [True] * 1010)
    assert max(one.times for one in found) <= MOST_TIMES
    assert sum((one.last - one.first) * one.times for one in found) == 1010


@given(st.lists(st.tuples(st.sampled_from("abc"), st.booleans()), max_size=40))
def test_played_out_it_is_what_it_was(bars: list[tuple[str, bool]]) -> None:
    """Whatever is folded unfolds to the same bars, and passages begin only where something begins."""
    begins = [begin for _, begin in bars]
    found = folded(bars, begins)
    assert list(chain.from_iterable(chain(*repeat(bars[one.first : one.last], one.times)) for one in found)) == bars
    assert all(begins[one.first] for one in found if one.first)
