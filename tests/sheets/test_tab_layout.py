"""Tab before it is drawn: whatever has to go on the lines, in order and inside the room."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from sheet_plans import make_plan

from listener.sheets.tab_layout import Column, string_line, systems


def column(name: str, width: int) -> Column:
    """A rest of this width."""
    return Column("", name, {}, width, None)


@given(st.lists(st.lists(st.integers(5, 12), min_size=1, max_size=6), max_size=8), st.integers(8, 60))
def test_lines_are_full_and_lose_nothing(widths: list[list[int]], room: int) -> None:
    """All columns in order; a line is too long only where one column is; the next bar would not have fitted."""
    bars = [[column(f"{bar}.{place}", width) for place, width in enumerate(row)] for bar, row in enumerate(widths)]
    found = systems(bars, room)
    assert [one for system in found for part in system for one in part.columns] == [one for bar in bars for one in bar]
    assert sum(part.closed for system in found for part in system) == len(bars)
    for system in found:
        assert len(string_line(system, 1, "-", "|")) <= room + 1 or [len(part.columns) for part in system] == [1]
        assert all(part.closed for part in system[:-1])
    for system, after in pairwise(found):
        assert sum(1 + part.width for part in [*system, after[0]]) > room


def test_passages_begin_lines() -> None:
    """Two short bars share a line, unless another passage begins with the second."""
    planned = make_plan([("C", 0, 4), ("F", 4, 4)], passages=("verse", "chorus")).steps
    bars = [[Column("", "", {}, 5, one)] for one in planned]
    assert [len(system) for system in systems(bars, 40)] == [2]
    assert [len(system) for system in systems(bars, 40, by_passage=True)] == [1, 1]


def test_a_string() -> None:
    """Frets stand where their column says; a bar that goes on on the next line has no bar line at its end."""
    found = systems([[Column("", "", {2: "7"}, 5, None)], [column("", 5), column("", 5)]], 10)
    assert [string_line(system, 2, "-", "|") for system in found] == ["|-7---|", "|-----", "|-----|"]
    assert [string_line(system, 1, "~", "!") for system in found] == ["!~~~~~!", "!~~~~~", "!~~~~~!"]
