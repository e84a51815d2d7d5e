"""How a take goes, in a row: what is counted is the account; and a picture is no dearer after an hour."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from types import FrameType
from typing import Any

import pytest

from listener.judging.verdict import HIT, MISS, NEAR
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.totals import RECENT, route_signs, short_totals, timing_row, totals_row
from listener.screen.theme import Theme
from listener.session.take.state import FINISHED, Snapshot


def text(row: Any) -> str:
    return "".join(segment.text for segment in row)


def test_what_counts_is_drawn(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Late wrong chords and second tries are in no mean, and in no mark on the line from early to late."""
    verdicts = (
        verdict_on(verse, 0, HIT, offset_ms=10.0),
        verdict_on(verse, 1, NEAR, offset_ms=20.0, movement_score=80.0),
        verdict_on(verse, 2, MISS, offset_ms=900.0, movement_score=None),
        verdict_on(verse, 2, HIT, attempt=2, offset_ms=500.0, movement_score=10.0),
    )
    shown = moment(verse, verdicts=verdicts)
    theme = Theme(ascii_only=True)
    assert "movement" in text(totals_row(shown, 100, theme))
    assert "mean 80" in text(totals_row(shown, 100, theme))
    assert "timing 15 ms late" in text(totals_row(shown, 100, theme))
    assert "movement 80" in text(short_totals(shown, theme))
    assert "last 20 ms late, on average 15 ms late" in text(timing_row(shown, 100, theme))


def test_nothing_is_due_when_the_take_is_over(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """The last chord then shows how it went."""
    theme = Theme(ascii_only=True)
    last = len(verse.steps) - 1
    verdicts = tuple(verdict_on(verse, step, NEAR if step == last else HIT) for step in range(last + 1))
    playing = moment(verse, step=last, verdicts=verdicts)
    over = replace(playing, phase=FINISHED)
    assert text(route_signs(playing, 80, theme)) == "*" * last + "@"
    assert text(route_signs(over, 80, theme)) == "*" * last + "~"
    for width in (80, 140):
        assert not any("@" in text(line) for line in dashboard(over, width=width, height=40, theme=theme).rows)


def test_when_nothing_recent_counts(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Of a long run of misses no mark is drawn; the mean of what came before is still there."""
    misses = tuple(verdict_on(verse, index % 8, MISS, attempt=2) for index in range(RECENT))
    shown = moment(verse, verdicts=(verdict_on(verse, 0, HIT, offset_ms=10.0), *misses))
    assert text(timing_row(shown, 100, Theme(ascii_only=True))) == "timing   on average 10 ms late"
    assert "early" not in text(timing_row(moment(verse, verdicts=misses), 100, Theme(ascii_only=True)))


def _opcodes(work: Callable[[], object]) -> int:
    """How many steps the interpreter takes: a cost that no other program on the machine can change."""
    count = 0

    def trace(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal count
        frame.f_trace_opcodes = True
        count += event == "opcode"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize(("width", "height"), [(80, 24), (140, 40)])
def test_a_frame_after_an_hour_costs_what_the_first_did(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,  # type: ignore[no-untyped-def]
    width: int,
    height: int,
) -> None:
    """One take with a chord each second for an hour: the frame for its last verdict takes the interpreter no more steps
    than the one for its hundred-and-fourth."""
    every = [replace(verdict_on(verse, index % 8, HIT), onset_s=float(index)) for index in range(3600)]

    def frame(count: int) -> int:
        before, after = (
            moment(verse, step=3, verdict=every[end - 1], verdicts=tuple(every[:end])) for end in (count - 1, count)
        )
        dashboard(before, width=width, height=height, theme=Theme())
        return _opcodes(lambda: dashboard(after, width=width, height=height, theme=Theme()))

    frame(104)
    early, late = frame(104), frame(3600)  # both are verdicts on the last of eight chords
    assert early > 1000
    assert late <= 1.02 * early
