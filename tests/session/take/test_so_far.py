"""A take as far as it has been judged: the same however it grew, and what was handed out stays as it was."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st
from judged import VERDICTS

from listener.judging.account import Account
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.session.take.so_far import SoFar, TakeRecord

CHORDS = [("C", (48, 55, 64)), ("F", (53, 60, 69))] * 4


@given(verdicts=st.lists(VERDICTS, max_size=12))
def test_growing_is_as_counting_afresh(make_plan: Callable[..., Plan], verdicts: list[Verdict]) -> None:
    """After every verdict: all verdicts so far, their account, and the newest of each step."""
    plan = make_plan(CHORDS)
    record, handed_out = TakeRecord(plan), []
    for verdict in verdicts:
        record.add(verdict)
        assert record.so_far is record.so_far
        handed_out.append(record.so_far)
    for count, so_far in enumerate(handed_out, 1):
        assert so_far == SoFar.of(plan, verdicts[:count])
        assert so_far.verdicts == tuple(verdicts[:count])
        assert so_far.account == Account.of_take(plan, verdicts[:count])
        assert so_far.newest == {verdict.step: verdict for verdict in verdicts[:count]}
