"""Counting a take as it grows: the same as counting it afresh, and no dearer after an hour."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from statistics import fmean
from types import FrameType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.verdict import GRADES, HIT, Verdict
from listener.planning.plan import Plan
from listener.screen.dashboard import dashboard
from listener.screen.tally import RECENT_OFFSETS, RECENT_SCORES, tally
from listener.screen.theme import Theme
from listener.session.state import Snapshot

VERDICTS = st.builds(
    Verdict, step=st.integers(0, 8), attempt=st.integers(1, 3), grade=st.sampled_from(GRADES), faults=st.just(()),
    heard=st.just((60,)), held=st.just(()), onset_s=st.just(0.0), spread_ms=st.just(0.0),
    offset_ms=st.none() | st.floats(-300, 300), movement=st.none(), least=st.none(),
    movement_score=st.none() | st.floats(0, 100),
)  # fmt: skip


def same(verdicts: Sequence[Verdict]) -> None:
    """The tally says what the verdicts say, counted here in the plainest way."""
    found = tally(tuple(verdicts))
    scores = [verdict.movement_score for verdict in verdicts if verdict.movement_score is not None]
    offsets = [verdict.offset_ms for verdict in verdicts if verdict.offset_ms is not None]
    for grade in GRADES:
        assert found.grades[grade] == sum(verdict.grade == grade and verdict.attempt == 1 for verdict in verdicts)
    assert found.newest == {verdict.step: verdict for verdict in verdicts}
    assert list(found.scores) == scores[-RECENT_SCORES:]
    assert list(found.offsets_ms) == offsets[-RECENT_OFFSETS:]
    assert found.mean_score == (pytest.approx(fmean(scores), abs=1e-9) if scores else None)
    assert found.mean_offset_ms == (pytest.approx(fmean(offsets), abs=1e-9) if offsets else None)


@given(st.lists(st.tuples(st.lists(VERDICTS, max_size=6), st.sampled_from(["grow", "again", "another", "back"]))))
def test_growing_is_as_counting_afresh(steps: list[tuple[list[Verdict], str]]) -> None:
    """Whatever is asked in whatever order: takes that grow, the same again, another take, an earlier moment."""
    take: list[Verdict] = []
    for verdicts, how in steps:
        take = [*take, *verdicts] if how == "grow" else take if how == "again" else verdicts
        same(take)
        if how == "back":
            same(take[: len(take) // 2])


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
