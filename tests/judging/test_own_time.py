"""Timing against the player's own mean: a steady offset is no fault, what strays from it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from statistics import fmean

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.drill.drill import OWN_MEAN
from listener.drill.drill_file import read_drill
from listener.errors import DrillError
from listener.following.pace import Anchor
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take, read_take, take_bytes
from listener.history.store.rows import verdict_from, verdict_row
from listener.judging.own_time import LEAST_ONSETS, OwnTime
from listener.judging.take import END, TakeJudge, judge_take
from listener.judging.verdict import HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan

SINGLE = replace(make_pickup("single"), delay_periods=0.0)
CHORDS = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71))]
VERSE = [CHORDS[n % 3] for n in range(8)]
ANCHOR = Anchor(0, 4.0, 60.0)
END_MARK = Mark(24.0, END)


def own_mean(plan: Plan, timing_ms: float = 30.0) -> Plan:
    return replace(plan, drill=replace(plan.drill, timing=OWN_MEAN, timing_ms=timing_ms))


def late(make_messages: Callable[..., list[Message]], offsets_ms: Sequence[float]) -> list[Message]:
    return make_messages(
        [(4.0 + 2 * n + ms / 1000, VERSE[n][1]) for n, ms in enumerate(offsets_ms)], gap_s=0.0, ring_s=1.0
    )


def judged(plan: Plan, messages: list[Message], marks: tuple[Mark, ...] = ()) -> list[Verdict]:
    return judge_take(plan, SINGLE, Take(tuple(messages), marks, None), ANCHOR)


def test_a_steady_offset_is_a_style(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Sixty ms behind throughout, where 30 are allowed: all hits by the own mean, all near by the click."""
    plan, messages = make_plan(VERSE, timing_ms=30.0), late(make_messages, [60.0] * 8)
    assert [v.grade for v in judged(own_mean(plan), messages)] == [HIT] * 8
    assert [v.grade for v in judged(plan, messages)] == [NEAR] * 8


def test_what_strays_is_named_from_the_fourth_onset_on(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """By hand: 50, 60, 40 have the mean 50; 100 is 50 behind it, and the mean is then 62.5; 30 is 32.5 before that."""
    verdicts = judged(own_mean(make_plan(VERSE)), late(make_messages, [50, 60, 40, 100, 30, 60, 60, 60]))
    assert [v.offset_ms for v in verdicts] == [50, 60, 40, 100, 30, 60, 60, 60]
    assert [v.own_offset_ms for v in verdicts][:5] == [None, None, None, 50.0, -32.5]
    assert [v.grade for v in verdicts] == [HIT, HIT, HIT, NEAR, NEAR, HIT, HIT, HIT]
    assert [f.text for v in verdicts[3:5] for f in v.faults] == [
        "late by 50 ms against your own average", "early by 32 ms against your own average",
    ]  # fmt: skip
    assert [f.code for v in verdicts[3:5] for f in v.faults] == ["late", "early"]


def test_misses_say_nothing_about_the_players_time(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Three chords in time, a miss far behind, then in time: the miss has not moved the mean."""
    messages = late(make_messages, [0, 0, 0])
    messages += make_messages([(10.2, (44, 49, 58))], gap_s=0.0, ring_s=1.0)
    messages += make_messages([(12.0, VERSE[4][1])], gap_s=0.0)
    verdicts = judged(own_mean(make_plan(VERSE)), messages)
    assert verdicts[3].grade == MISS
    assert verdicts[4].own_offset_ms == 0.0


def test_an_anchor_begins_anew(make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]) -> None:
    """After a pause and a new count-in three onsets are heard before the next is compared."""
    plan = own_mean(make_plan(VERSE))
    anchor = Mark(11.6, Anchor(4, 12.0, 60.0).word())
    verdicts = judged(plan, late(make_messages, [0, 0, 0, 0, 70, 70, 70, 70]), (anchor,))
    assert [v.own_offset_ms for v in verdicts] == [None, None, None, 0.0, None, None, None, 0.0]
    assert {v.grade for v in verdicts} == {HIT}


@given(st.lists(st.integers(-2000, 2000), min_size=LEAST_ONSETS, max_size=40), st.integers(-2000, 2000))
def test_it_is_the_mean(tenths: list[int], more: int) -> None:
    """The mean is the arithmetic mean (the standard library's), and shifting every onset alike changes no judgement."""
    own, shifted = OwnTime(), OwnTime()
    for value in tenths:
        own, shifted = own.after(value / 10), shifted.after((value + more) / 10)
    assert own.mean_ms is not None
    assert abs(own.mean_ms - fmean(tenths) / 10) < 1e-9
    one, other = own.about_mean(12.0), shifted.about_mean(12.0 + more / 10)
    assert one is not None
    assert other is not None
    assert abs(one - other) < 0.11


strokes = st.lists(
    st.tuples(st.floats(-0.25, 0.25), st.sampled_from([*(notes for _, notes in CHORDS), (48, 56, 64), (60,)])),
    min_size=8,
    max_size=8,
)


@settings(max_examples=examples(60))
@given(strokes, st.lists(st.floats(0.0, 22.0), max_size=30))
def test_replay_equals_live(
    make_plan: Callable[..., Plan],
    make_messages: Callable[..., list[Message]],
    played: list[tuple[float, tuple[int, ...]]],
    ticks: list[float],
) -> None:
    """However often the clock ticks, and after a mended chord too: live, replayed and read back from the history. The
    take says when it ended."""
    plan = own_mean(make_plan(VERSE), 20.0)
    placed = [(4.0 + 2 * n + off_s, notes) for n, (off_s, notes) in enumerate(played)]
    placed += [(time_s + 0.15, VERSE[n][1]) for n, (time_s, _) in enumerate(placed) if n % 3 == 0]
    messages = make_messages(sorted(placed))
    judge, live = TakeJudge(plan, SINGLE, ANCHOR), list[Verdict]()
    moments = [(message.time_s, 1, message) for message in messages] + [(time_s, 0, None) for time_s in ticks]
    for time_s, _, message in sorted(moments, key=lambda moment: moment[:2]):
        live += judge.tick(time_s) if message is None else judge.feed(message)
    live += judge.mark(END_MARK)
    settled = [verdict for verdict in live if verdict.settled]
    assert judged(plan, messages, (END_MARK,)) == settled
    again = read_take(take_bytes(Take(tuple(messages), (END_MARK,), None)), "take.mid")
    assert judged(plan, list(again.messages), again.marks) == settled
    assert [verdict_from(verdict_row(verdict)) for verdict in settled] == settled
    own = OwnTime()
    for verdict in settled:
        if verdict.offset_ms is not None:
            assert verdict.own_offset_ms == own.about_mean(verdict.offset_ms)
            own = own if verdict.grade == MISS else own.after(verdict.offset_ms)


def test_the_drill_file_says_which() -> None:
    """``timing = "own mean"``; the click when nothing is said; anything else is told with its line."""
    chords = 'title = "T"\nkey = "C major"\n{}\n[[passage]]\nnumerals = "I | IV"\n'
    assert read_drill(chords.format(""), "t").timing == "click"
    assert read_drill(chords.format('timing = "own mean"'), "t").timing == OWN_MEAN
    with pytest.raises(DrillError, match=r"line 3.*must be.*own mean"):
        read_drill(chords.format('timing = "loose"'), "t")
