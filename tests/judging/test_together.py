"""How close together the notes of a chord must come."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take
from listener.judging.take import judge_take
from listener.judging.verdict import HIT, NEAR
from listener.planning.plan import Plan

#: Without delay, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)


@pytest.mark.parametrize(("together_ms", "grade"), [(None, HIT), (400.0, HIT), (300.0, NEAR)])
def test_a_drill_may_want_a_chord_together(
    make_plan: Callable[..., Plan], together_ms: float | None, grade: str
) -> None:
    """Three strings over 350 ms are the chord, and a word on the roll; a drill that wants less says so."""
    plan = make_plan([("C", (48, 55, 64))])
    plan = replace(plan, drill=replace(plan.drill, together_ms=together_ms))
    messages = [Message(on_grid(1 + 0.175 * n), (0x90, note, 80)) for n, note in enumerate((48, 55, 64))]
    (verdict,) = judge_take(plan, SINGLE, Take(tuple(messages)))
    assert verdict.grade == grade
    assert [fault.code for fault in verdict.faults] == (["rolled"] if grade == NEAR else [])
