"""Remarks as faults: live as in replays, after jumps, and nothing of it without the drill's word."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from by_hand import with_ticks
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import REMARKS_AS_FAULTS, SAME_CHORD
from listener.following.pace import Anchor
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take, read_take, take_bytes
from listener.judging.take import END, TakeJudge, judge_take
from listener.judging.verdict import HIT, NEAR
from listener.planning.plan import Plan

SINGLE = replace(make_pickup("single"), delay_periods=0.0)
#: As planned: the bass stays for a change, the other voices go by steps; nothing to remark.
PLANNED = [("C", (48, 55, 64)), ("F", (48, 57, 65)), ("G", (50, 55, 71)), ("C", (52, 55, 72))]
#: Voicings of C, F, G and C that move in fifths, or that have a wide gap, or neither.
CHOICES = (
    ((48, 55, 64), (55, 60, 64)),
    ((53, 60, 69), (48, 57, 65), (45, 53, 72)),
    ((55, 62, 71), (50, 59, 67), (47, 55, 74)),
    ((48, 55, 64), (52, 60, 67)),
)


def asking(plan: Plan, remarks: bool | str) -> Plan:
    return replace(plan, drill=replace(plan.drill, remarks=remarks))


@given(st.tuples(*map(st.sampled_from, CHOICES)), st.booleans(), st.lists(st.floats(0.0, 12.0), max_size=20))
def test_live_is_replay_and_only_hits_fall(
    make_plan: Callable[..., Plan],
    make_messages: Callable[..., list[Message]],
    played: tuple[tuple[int, ...], ...],
    click: bool,
    ticks: list[float],
) -> None:
    """With ticks at any time, through a file and back: the same verdicts. Against the drill without the word, all that
    changes is that hits become near by faults that are remarks on exactly these chords."""
    plain = make_plan(PLANNED, strictness=SAME_CHORD)
    plan = asking(plain, REMARKS_AS_FAULTS)
    messages = make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(played)])
    end = Mark(12.0, END)
    anchor = Anchor(0, 1.0, 60.0) if click else None
    take = Take(tuple(messages), (end,), None)
    live = TakeJudge(plan, SINGLE, anchor)
    found = with_ticks(live, messages, ticks) + live.mark(end)
    again = judge_take(plan, SINGLE, read_take(take_bytes(take), "take.mid"), anchor)
    assert [verdict for verdict in found if verdict.settled] == again
    without = judge_take(plain, SINGLE, take, anchor)
    assert [replace(verdict, grade=HIT, faults=()) for verdict in again] == without
    assert without == judge_take(asking(plain, True), SINGLE, take, anchor)
    assert all((verdict.grade == NEAR) == bool(verdict.faults) for verdict in again)


def test_after_a_jump_nobody_moved_in_parallel(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """The same two chords, with a jump between them: no fifths. A wide gap is there all the same."""
    plan = asking(make_plan(PLANNED, strictness=SAME_CHORD), REMARKS_AS_FAULTS)
    jump = (Mark(2.5, "step 1"), Mark(12.0, END))

    def codes(second: tuple[int, ...], *marks: Mark) -> list[str]:
        messages = make_messages([(1.0, PLANNED[0][1]), (3.0, second)])
        verdicts = judge_take(plan, SINGLE, Take(tuple(messages), marks, None))
        return [fault.code for verdict in verdicts for fault in verdict.faults]

    assert codes((53, 60, 69)) == ["parallel_fifths"]
    assert codes((53, 60, 69), *jump) == []
    assert codes((45, 53, 72), *jump) == ["spacing"]
