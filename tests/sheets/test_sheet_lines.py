"""Bars on lines, and what stands over the chords."""

from __future__ import annotations

from itertools import groupby, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheet_plans import COURSE_IN_PARTS, Timed, course_plan, make_plan

from listener.planning.plan import Plan
from listener.sheets.bars import bars_of
from listener.sheets.printed.sheet_lines import sheet_lines, spread_out
from listener.sheets.printed.text_width import text_width, wrapped


def shapes_over(plan: Plan) -> list[list[tuple[str, bool]]]:
    """Line by line, the names and whether they have a diagram."""
    return [
        [(label.planned.voicing.chord.symbol, label.with_diagram) for label in line.labels]
        for line in sheet_lines(plan, 180)
    ]


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_every_bar_is_on_one_line(name: str) -> None:
    """In order; every passage begins a line of its own; every line has a name over its first chord."""
    plan = course_plan(name)
    lines = sheet_lines(plan, 180)
    assert [bar.number for line in lines for bar in line.bars] == [bar.number for bar in bars_of(plan)]
    passages = [name for name, _ in groupby(one.step.passage for one in plan.steps)]
    assert [line.passage for line in lines if line.passage is not None] == passages
    assert all(line.labels for line in lines)


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_every_shape_has_a_diagram(name: str) -> None:
    """Nobody has to guess: each chord with its fingering is drawn at least once in its passage."""
    plan = course_plan(name)
    drawn = {
        (label.planned.step.passage, label.planned.voicing.chord.symbol, label.planned.fingering)
        for line in sheet_lines(plan, 180)
        for label in line.labels
        if label.with_diagram
    }
    assert {(one.step.passage, one.voicing.chord.symbol, one.fingering) for one in plan.steps} <= drawn


def test_names_stand_where_something_changes() -> None:
    """Once for a chord that is struck again, always over the first chord of a line; a known line has no diagrams."""
    chords: list[Timed] = [("C" if n < 6 else "F", n * 2, 2) for n in range(16)]
    assert shapes_over(make_plan(chords)) == [[("C", True), ("F", True)], [("F", False)]]


def test_a_bar_is_never_broken() -> None:
    """Sixteen different shapes in a bar stay on its line, however narrow."""
    chords: list[Timed] = [(("C", "F")[n % 2], n / 4, 0.25) for n in range(16)]
    (line,) = sheet_lines(make_plan(chords), 100)
    assert len(line.labels) == 16


_PLACES = st.lists(st.tuples(st.floats(0, 180), st.floats(3, 20)), min_size=1, max_size=20)


@given(_PLACES)
def test_labels_do_not_overlap(places: list[tuple[float, float]]) -> None:
    """They keep their order and stay on the line where there is room for all."""
    wanted, widths = sorted(place for place, _ in places), [width for _, width in places]
    middles = spread_out(wanted, widths, 0.0, 180.0)
    for (one, width), (other, next_width) in pairwise(zip(middles, widths, strict=True)):
        assert other - one >= (width + next_width) / 2 - 1e-6
    if sum(widths) <= 180:
        assert middles[0] >= widths[0] / 2 - 1e-6
    assert middles[-1] <= 180 - widths[-1] / 2 + 1e-6


@given(_PLACES)
def test_labels_with_room_stay(places: list[tuple[float, float]]) -> None:
    """What does not overlap is not moved."""
    widths = [width for _, width in places]
    middles, edge = [], 0.0
    for width in widths:
        middles.append(edge + width / 2)
        edge += width
    assert spread_out(middles, widths, 0.0, edge) == pytest.approx(middles)


@given(st.text(alphabet="abcmWI .,;-äÜ", max_size=200), st.floats(5, 100), st.floats(0, 4))
def test_paragraphs_lose_no_word(text: str, width: float, indent: float) -> None:
    """All words in order, no line wider than allowed, but for a single letter that is."""
    lines = list(wrapped(text, 3.0, width, indent=indent))
    assert "".join("".join(lines).split()) == "".join(text.split())
    for index, line in enumerate(lines):
        assert text_width(line, 3.0) <= width - (indent if index == 0 else 0) or len(line) <= 1
