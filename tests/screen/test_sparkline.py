"""Sparklines show the course of a number, and never more characters than they may."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.screen.sparkline import BLOCKS, PLAIN, sparkline, wants_plain

_VALUES = st.lists(st.none() | st.floats(-1e6, 1e6), max_size=60)


@given(_VALUES, st.integers(1, 40), st.booleans())
def test_length_and_alphabet(values: list[float | None], width: int, plain: bool) -> None:
    """As many characters as values, at most the width, from one alphabet; gaps where nothing is known."""
    line = sparkline(values, width, plain)
    assert len(line) == min(len(values), width)
    assert set(line) <= set((PLAIN if plain else BLOCKS) + " ")
    if len(values) <= width:
        assert [character == " " for character in line] == [value is None for value in values]


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=20))
def test_higher_values_are_never_lower_bars(values: list[float]) -> None:
    """The order of the bars is the order of the values; the extremes get the extreme bars."""
    heights = [BLOCKS.index(character) for character in sparkline(values, 20)]
    for (before, low), (after, high) in pairwise(zip(values, heights, strict=True)):
        assert low <= high if before <= after else low >= high
    if min(values) < max(values):
        assert (min(heights), max(heights)) == (0, len(BLOCKS) - 1)


def test_neighbours_are_averaged() -> None:
    """More values than columns: each column is the mean of its share, gaps left out."""
    assert sparkline([0, 0, 100, 100], 2) == "▁█"
    assert sparkline([0, None, 100, 100, None, None], 3, low=0, high=100) == "▁█ "


def test_fixed_range() -> None:
    """With a range given, small changes look small and values beyond it stay at the edge."""
    assert sparkline([50, 51], 5, low=0, high=100) == "▅▅"
    assert sparkline([-10, 110], 5, low=0, high=100) == "▁█"
    assert sparkline([7, 7], 5) == "▅▅"
    assert sparkline([], 5) == ""
    assert sparkline([None], 5) == " "


@pytest.mark.parametrize(
    ("encoding", "environment", "plain"),
    [
        ("utf-8", {}, False),
        ("cp437", {}, True),  # has a few blocks, not all eight
        ("ascii", {}, True),
        (None, {}, True),
        ("no-such-code", {}, True),
        ("utf-8", {"NO_COLOR": "1"}, True),
        ("utf-8", {"NO_COLOR": ""}, False),  # no-color.org: only when not empty
        ("utf-8", {"TERM": "dumb"}, True),
        ("utf-8", {"TERM": "linux"}, True),  # its console has no font for music
        ("utf-8", {"LC_ALL": "C"}, True),
    ],
)
def test_when_plain(encoding: str | None, environment: dict[str, str], plain: bool) -> None:
    """ASCII when asked for or when the output cannot show the blocks."""
    assert wants_plain(encoding, environment) is plain
