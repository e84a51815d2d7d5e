"""Terminals with little room."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rich.cells import cell_len

from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.small import LEAST_HEIGHT, LEAST_WIDTH
from listener.screen.theme import Theme
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, READY, Snapshot

SIZES = ((LEAST_WIDTH, LEAST_HEIGHT), (30, 8), (40, 12), (60, 16), (79, 23), (80, 20), (200, 23), (79, 60))


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("theme", [Theme(), Theme(ascii_only=True), Theme(left_handed=True)])
def test_every_size_is_filled_exactly(
    verse: Plan,
    eights: Plan,
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
    width: int,
    height: int,
    theme: Theme,
) -> None:
    """Whatever the moment and the guitar; what is due, how it went and the key that ends it are never left out."""
    for plan in (verse, eights):
        for changes in (
            {},
            {"phase": PAUSED},
            {"phase": COUNT_IN, "beat": 2},
            {"phase": READY},
            {"note": "rest " * 40},
        ):
            snapshot = moment(plan, **changes)
            picture = dashboard(snapshot, width=width, height=height, theme=theme)
            lines = printed(picture, width)
            assert [cell_len(line) for line in lines] == [width] * height
            assert picture.verdict is not None
            assert picture.verdict.top + picture.verdict.height <= height
            assert "step 3 of" in "\n".join(lines)
            assert any(line.startswith(f"{theme.chord(plan.steps[2].voicing.chord)}  ") for line in lines)
        near = "\n".join(printed(dashboard(moment(plan), width=width, height=height, theme=theme), width))
        assert f"{theme.signs.near} near" in near
        over = moment(plan, phase=FINISHED, step=len(plan.steps))
        lines = printed(dashboard(over, width=width, height=height, theme=theme), width)
        assert [cell_len(line) for line in lines] == [width] * height
        assert "1 hit" in " ".join(lines)


def test_more_room_shows_more(verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]) -> None:
    """First the fault in words, then the neck, then what comes next and the counts."""

    def shown(width: int, height: int) -> str:
        return "\n".join(printed(dashboard(moment(verse), width=width, height=height, theme=Theme()), width))

    facts = ("right chord, but close", "[4]", "next C, spread")
    assert [fact in shown(40, 12) for fact in facts] == [True, False, True]
    assert [fact in shown(60, 16) for fact in facts] == [True, True, False]
    assert all(fact in shown(79, 23) for fact in facts)
