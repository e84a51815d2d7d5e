"""Anchors as words, and which step a time belongs to."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.following.pace import Anchor, Timetable, parse_anchor
from listener.planning.plan import Plan

CHORDS = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71))]


@given(st.integers(0, 10**4), st.floats(0, 10**5), st.floats(1, 400))
def test_an_anchor_is_read_back_as_it_was(step: int, time_s: float, tempo: float) -> None:
    """To the last digit: a replay has the very same times."""
    anchor = Anchor(step, time_s, tempo)
    assert parse_anchor(anchor.word()) == anchor


@pytest.mark.parametrize(
    "word",
    [
        "", "click", "click 1 2", "click 1 2 3 4", "tick 1 2 60", "click -1 2 60", "click one 2 60", "click 1 2 0",
        "click 1 2 -60", "click 1 two 60", "click 1 2 nan", "click 1 nan 60", "click 1 -inf 60", "click 1 1e400 60",
        "click 1 2 1e-300", "click 1 2 inf",
    ],
)  # fmt: skip
def test_what_is_no_anchor_is_said(word: str) -> None:
    """In one line."""
    with pytest.raises(SourceError, match="a mark that cannot be read"):
        parse_anchor(word)


def timetable(make_plan: Callable[..., Plan], anchor: Anchor) -> Timetable:
    return Timetable([planned.step for planned in make_plan(CHORDS).steps], anchor)


def test_steps_are_due_from_the_anchor_on(make_plan: Callable[..., Plan]) -> None:
    """At 60 two beats are two seconds; steps before the anchor were due before."""
    table = timetable(make_plan, Anchor(1, 10.0, 60.0))
    assert (table.due_s, table.length_s, table.beat_s) == ([8.0, 10.0, 12.0], [2.0, 2.0, 2.0], 1.0)
    assert timetable(make_plan, Anchor(0, 10.0, 120.0)).due_s == [10.0, 11.0, 12.0]


@pytest.mark.parametrize(
    ("time_s", "step"), [(0.0, 0), (10.0, 0), (10.99, 0), (11.0, 1), (12.9, 1), (13.0, 2), (15.99, 2), (16.0, 3)]
)
def test_a_step_begins_half_of_one_before_it_is_due(make_plan: Callable[..., Plan], time_s: float, step: int) -> None:
    """And the last one lasts its own time."""
    table = timetable(make_plan, Anchor(0, 10.0, 60.0))
    assert table.step_at(time_s, first=0) == step
    assert table.step_at(time_s, first=2) == max(2, step)
