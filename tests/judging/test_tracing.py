"""From strokes to verdicts: when they are settled, what is left out or gone by, and when a drill is over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from by_hand import PlanMaker, TakeMaker
from how_many import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st
from spread_chords import AM, DM, EM, RUN, WILD, C, Chord, F, G

from listener.following.pace import Anchor
from listener.hearing.events import Message, NoteOn, Stroke, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.fill import Fill
from listener.judging.take import END, PAUSE, UNTIL_RIGHT, TakeJudge, judge_take, step_mark
from listener.judging.tracing import AWAY_BARS, SETTLE_S, Trace
from listener.judging.verdict import HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan

Said = list[tuple[int, int, str]]

SINGLE = replace(make_pickup("single"), delay_periods=0.0)
SLIP: Chord = (53, 60, 70)
ROUND = [("C", C), ("F", F), ("G", G), ("Am", AM), ("Dm", DM), ("Em", EM)]
#: The first chord is due at ten seconds; steps of two seconds, bars of four.
ANCHOR = Anchor(0, 10.0, 60.0)
CLICK_OR_NOT = pytest.mark.parametrize("anchor", [None, ANCHOR], ids=["own pace", "click"])


def stroke(at_s: float, struck: Chord, held: Chord = (), *, settled: bool = True) -> Stroke:
    """Plucked together, 4 ms from string to string."""
    notes = tuple(NoteOn(on_grid(at_s + 0.004 * place), pitch, 80) for place, pitch in enumerate(struck))
    ringing = tuple(NoteOn(0.0, pitch, 80) for pitch in held)
    return Stroke(notes, ringing, settled=settled, closed_s=notes[-1].time_s, rang=held)


def tracing(plan: Plan, anchor: Anchor | None = None) -> Trace:
    """One that hears strokes of this plan."""
    found = Trace(plan)
    if anchor is not None:
        found.with_click(anchor)
    return found


def said(verdicts: Sequence[Verdict]) -> Said:
    """Of the settled ones: step, attempt and grade."""
    return [(one.step, one.attempt, one.grade) for one in verdicts if one.settled]


def hits(*steps: int) -> Said:
    return [(step, 1, HIT) for step in steps]


def fed(trace: Trace, *strokes: tuple[float, Chord]) -> Said:
    """What they bring about, and what was settled in the end."""
    found = [verdict for at_s, struck in strokes for verdict in trace.feed(stroke(at_s, struck))]
    return said(found + trace.flush())


def every(gap_s: float, *chords: Chord, from_s: float = 10.0) -> list[tuple[float, Chord]]:
    return [(from_s + gap_s * number, chord) for number, chord in enumerate(chords)]


# When a verdict is settled ----------------------------------------------------------------------------------------


@CLICK_OR_NOT
def test_what_is_known_is_said_at_once(make_plan: PlanMaker, anchor: Anchor | None) -> None:
    """A right chord while it still grows, with its last string; and no string of it sooner. Once, not again."""
    trace = tracing(make_plan(ROUND), anchor)
    for strings, grades in ((1, []), (2, []), (3, [HIT])):
        growing = stroke(10.0, C[:strings], settled=False)
        found = trace.feed(growing)
        assert [(one.grade, one.settled) for one in found] == [(grade, False) for grade in grades]
    assert trace.feed(stroke(10.0, C, settled=False)) == []
    assert said(trace.feed(stroke(10.0, C))) == hits(0)


@CLICK_OR_NOT
def test_a_wrong_chord_is_settled_by_silence_or_by_what_follows(make_plan: PlanMaker, anchor: Anchor | None) -> None:
    """Said at once when the stroke is over, unsettled; after a second, or with the next chord, it stands."""
    trace = tracing(make_plan(ROUND), anchor)
    fed_first = trace.feed(stroke(10.0, C)) + trace.feed(stroke(12.0, SLIP))
    assert [(one.step, one.grade, one.settled) for one in fed_first][-1] == (1, NEAR, False)
    assert trace.passed(12.008 + SETTLE_S - 0.001) == []
    assert said(trace.passed(12.008 + SETTLE_S)) == [(1, 1, NEAR)]
    assert trace.passed(20.0) == [] or anchor is not None
    trace = tracing(make_plan(ROUND), anchor)
    for at_s, struck in every(2.0, C, SLIP):
        trace.feed(stroke(at_s, struck))
    assert said(trace.feed(stroke(12.5, F)))[0] == (1, 1, NEAR)


def test_one_chord_alone_moves_nobody(make_plan: PlanMaker) -> None:
    """Exactly a chord far on, and silence however long: nothing of it is settled. The next one tells: on from there, or
    it was another chord by mistake."""
    for after, expected in (
        (EM, [*hits(4, 5)]),
        (F, [(1, 1, MISS), (1, 2, HIT)]),
    ):
        trace = tracing(make_plan(ROUND))
        assert said(trace.feed(stroke(10.0, C))) == hits(0)
        found = trace.feed(stroke(12.0, DM)) + trace.passed(30.0)
        assert said(found) == []
        found = trace.feed(stroke(32.0, after)) + trace.passed(40.0)
        assert [one for one in said(found) if one[0] in (1, 4, 5)][-2:] == expected


def test_what_was_shown_may_be_settled_otherwise(make_plan: PlanMaker) -> None:
    """A chord that is exactly another one of the drill is shown where it seems to be; settled is where it was."""
    trace = tracing(make_plan(ROUND))
    found = [one for at_s, struck in every(2.0, C, DM, F, G) for one in trace.feed(stroke(at_s, struck))]
    assert said(found + trace.flush()) == [(0, 1, HIT), (1, 1, MISS), (1, 2, HIT), (2, 1, HIT)]


# Silence and noodling ---------------------------------------------------------------------------------------------


@CLICK_OR_NOT
def test_silence_is_nobodys_chord(make_plan: PlanMaker, anchor: Anchor | None) -> None:
    """Who plays nothing hears nothing, during the drill and at its end."""
    trace = tracing(make_plan(ROUND), anchor)
    assert [one for second in range(40) for one in trace.passed(float(second))] == []
    assert trace.flush() == []
    assert trace.finished == (anchor is not None)


@CLICK_OR_NOT
def test_noodling_is_nobodys_chord(make_plan: PlanMaker, anchor: Anchor | None) -> None:
    """Before, between and after the chords: neither hits nor misses, and the player goes on where they were."""
    trace = tracing(make_plan(ROUND), anchor)
    strokes = [
        *every(0.3, *RUN, from_s=7.0),
        (10.0, C),
        (12.0, F),
        *every(0.2, *RUN, from_s=12.6),
        (16.0 if anchor else 15.0, AM if anchor else G),
        (18.0, DM if anchor else AM),
        *every(0.3, *RUN, from_s=19.0),
    ]
    assert fed(trace, *strokes) == (hits(0, 1, 3, 4) if anchor else hits(0, 1, 2, 3))


def test_last_at_is_the_last_stroke_of_somebody_who_is_at_a_step(make_plan: PlanMaker) -> None:
    """Not of noodling; none before the first and after a jump."""
    trace = tracing(make_plan(ROUND))
    assert trace.last_at_s is None
    for at_s, struck in every(2.0, C, F):
        trace.feed(stroke(at_s, struck))
    assert trace.last_at_s == 12.0
    for at_s, struck in every(0.3, *RUN, from_s=13.0):
        trace.feed(stroke(at_s, struck))
    assert trace.last_at_s is not None
    assert trace.last_at_s < 14.0
    trace.feed(stroke(18.0, G))
    assert trace.last_at_s == 18.0
    trace.go_to(0)
    assert trace.last_at_s is None


# Left out ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("played", "verdicts"),
    [
        ((C, G, AM), [(0, 1, HIT), (1, 1, MISS), (2, 1, HIT), (3, 1, HIT)]),
        ((C, AM, DM), [(0, 1, HIT), (1, 1, MISS), (2, 1, MISS), (3, 1, HIT), (4, 1, HIT)]),
        ((C, DM, EM), [(0, 1, HIT), (4, 1, HIT), (5, 1, HIT)]),
        ((F, G, AM), [(0, 1, MISS), (1, 1, HIT), (2, 1, HIT), (3, 1, HIT)]),
        ((C, F, G, AM, F, G, DM, EM), [*hits(0, 1, 2, 3), (1, 2, HIT), (2, 2, HIT), *hits(4, 5)]),
        ((C, SLIP, AM, DM), [(0, 1, HIT), (1, 1, NEAR), (2, 1, MISS), (3, 1, HIT), (4, 1, HIT)]),
        ((C, F), [(0, 1, HIT), (1, 1, HIT)]),
    ],
    ids=[
        "one",
        "two",
        "three are a jump",
        "the first",
        "not what was played before",
        "after a slip",
        "none at the end",
    ],
)
def test_left_out_at_own_pace(make_plan: PlanMaker, played: tuple[Chord, ...], verdicts: Said) -> None:
    """Up to two in a row are said to be, when the player went on after them; more is a jump; none where nobody went."""
    trace = tracing(make_plan(ROUND))
    found = [one for at_s, struck in every(2.0, *played) for one in trace.feed(stroke(at_s, struck))] + trace.flush()
    assert said(found) == verdicts
    for one in found:
        if one.settled and not one.heard:
            assert [fault.code for fault in one.faults] == ["left_out"]
            assert one.onset_s in [at_s for at_s, _ in every(2.0, *played)]


@pytest.mark.parametrize("tuned", [(64, 59, 59), (55, 50, 50), (55, 53), (53, 50)])
def test_who_comes_back_has_not_left_it_out(make_plan: PlanMaker, tuned: Chord) -> None:
    """Strings tuned that are tones of chords farther on, and then the drill from its beginning."""
    strokes = every(1.5, *((pitch,) for pitch in tuned))
    assert fed(tracing(make_plan(ROUND)), *strokes, *every(2.0, C, F, G, from_s=16.0)) == hits(0, 1, 2)


def test_after_noodling_nothing_was_left_out(make_plan: PlanMaker) -> None:
    """Whoever was elsewhere may come back where they like."""
    strokes = [(10.0, C), *every(0.3, *RUN, from_s=12.0), *every(2.0, G, AM, from_s=16.0)]
    assert fed(tracing(make_plan(ROUND)), *strokes) == hits(0, 2, 3)


# Gone by with the click -------------------------------------------------------------------------------------------


def test_gone_by_is_said_when_the_player_plays_on(make_plan: PlanMaker) -> None:
    """With the next chord, and when it had been due; nothing of those at the end that nobody played on after."""
    trace = tracing(make_plan(ROUND), ANCHOR)
    assert said(trace.feed(stroke(10.0, C)) + trace.passed(15.5)) == hits(0)
    found = trace.feed(stroke(16.0, AM))
    assert [(one.step, one.grade, one.onset_s) for one in found if not one.heard] == [(1, MISS, 12.0), (2, MISS, 14.0)]
    assert [fault.code for one in found if not one.heard for fault in one.faults] == ["nothing", "nothing"]
    assert said(trace.passed(40.0)) == []
    assert trace.finished


@pytest.mark.parametrize("away", range(1, 12))
def test_away_for_four_bars(make_plan: PlanMaker, away: int) -> None:
    """So many steps of half a bar that nobody played for: fewer than four bars of them were missed, else the player was
    away."""
    chords = [ROUND[step % 6] for step in range(14)]
    trace = tracing(make_plan(chords), ANCHOR)
    found = fed(trace, (10.0, C), (12.0 + 2.0 * away, chords[away + 1][1]))
    missed = [(step, 1, MISS) for step in range(1, away + 1)] if away / 2 < AWAY_BARS else []
    assert found == [(0, 1, HIT), *missed, (away + 1, 1, HIT)]


def test_noodling_is_being_away_too(make_plan: PlanMaker) -> None:
    """Steps in whose time somebody noodled are not missed."""
    trace = tracing(make_plan(ROUND), ANCHOR)
    assert fed(trace, (10.0, C), *every(0.2, *RUN, from_s=12.1), (14.0, G)) == hits(0, 2)


def test_who_begins_late_has_missed_what_went_by(make_plan: PlanMaker) -> None:
    """When they came in and played on."""
    found = fed(tracing(make_plan(ROUND), ANCHOR), (14.0, G), (16.0, AM))
    assert found == [(0, 1, MISS), (1, 1, MISS), *hits(2, 3)]


def test_what_was_before_a_jump_is_not_gone_by(make_plan: PlanMaker) -> None:
    """A new anchor begins with its own step."""
    trace = tracing(make_plan(ROUND), ANCHOR)
    first = trace.feed(stroke(10.0, C)) + trace.flush()
    trace.with_click(Anchor(3, 30.0, 60.0))
    assert said(first) + fed(trace, (30.0, AM), (32.0, DM)) == hits(0, 3, 4)


def test_the_count_in_is_nobodys(make_plan: PlanMaker) -> None:
    """Chords before the first one's own time are not heard at all."""
    trace = tracing(make_plan(ROUND), ANCHOR)
    assert trace.feed(stroke(7.0, G)) + trace.feed(stroke(8.9, C)) == []
    assert fed(trace, (10.0, C), (12.0, F)) == hits(0, 1)


# Until it is right ------------------------------------------------------------------------------------------------


def test_until_it_is_right_nobody_goes_on(make_plan: PlanMaker) -> None:
    """The next chords, played to the letter, are wrong attempts at the one that is due; once that is right, the next
    one is due, and going on at once is going on."""
    trace = tracing(make_plan(ROUND))
    trace.until_right()
    found = [one for at_s, struck in every(2.0, WILD, F, G) for one in trace.feed(stroke(at_s, struck))]
    found += trace.passed(16.0)
    assert {one.step for one in found} == {0}
    assert HIT not in {one.grade for one in found}
    assert trace.step == 0
    assert [one[0::2] for one in said(trace.feed(stroke(18.0, C)))] == [(0, HIT)]
    assert trace.step == 1
    assert fed(trace, (20.0, F), (22.0, G)) == hits(1, 2)


def test_until_it_is_right_a_jump_still_jumps(make_plan: PlanMaker) -> None:
    """To where the player asked for."""
    trace = tracing(make_plan(ROUND))
    trace.until_right()
    trace.go_to(3)
    assert fed(trace, (10.0, DM), (12.0, AM), (14.0, DM))[-2:] == [(3, 2, HIT), (4, 1, HIT)]


def test_until_right_is_a_mark_of_the_take(make_plan: PlanMaker, make_messages: TakeMaker) -> None:
    """From its time on; a replay knows it."""
    plan = make_plan(ROUND)
    messages = make_messages(every(2.0, C, SLIP, G, F, G))
    end = Mark(40.0, END)
    free = judge_take(plan, SINGLE, Take(tuple(messages), (end,)))
    strict = judge_take(plan, SINGLE, Take(tuple(messages), (Mark(5.0, UNTIL_RIGHT), end)))
    assert said(free)[:3] == [(0, 1, HIT), (1, 1, NEAR), (2, 1, HIT)]
    assert [one[::2] for one in said(strict)] == [(0, HIT), (1, NEAR), (1, MISS), (1, HIT), (2, HIT)]


# The step that is due, and the end --------------------------------------------------------------------------------


def test_the_step_that_is_due(make_plan: PlanMaker) -> None:
    """At own pace the next one once a chord is right, else the one that is not right yet; with the click the one that
    is being played. After a pause nobody plays again what was right."""
    trace = tracing(make_plan(ROUND))
    for at_s, struck, step in ((10.0, C, 1), (12.0, SLIP, 1), (14.0, F, 2), (16.0, G, 3)):
        trace.feed(stroke(at_s, struck))
        assert (trace.step, trace.next_unplayed) == (step, step)
    clicked = tracing(make_plan(ROUND), ANCHOR)
    for at_s, struck, step in ((10.0, C, 0), (12.0, SLIP, 1), (14.0, G, 2)):
        clicked.feed(stroke(at_s, struck))
        assert clicked.step == step
    assert clicked.next_unplayed == 3


def test_going_back_is_shown(make_plan: PlanMaker) -> None:
    """Who goes back, or to the top, is followed there."""
    trace = tracing(make_plan(ROUND))
    for at_s, struck in every(2.0, C, F, G, AM, F, G):
        trace.feed(stroke(at_s, struck))
    assert trace.step == 3
    for at_s, struck in every(2.0, C, F, from_s=24.0):
        trace.feed(stroke(at_s, struck))
    assert trace.step == 2


def test_a_drill_is_over_when_its_last_chord_is_right(make_plan: PlanMaker) -> None:
    """With the chord where it was struck together; what comes afterwards is nobody's."""
    trace = tracing(make_plan(ROUND[:2]))
    for at_s, struck in every(2.0, C, F):
        trace.feed(stroke(at_s, struck))
    trace.passed(12.5)
    assert trace.finished
    assert trace.feed(stroke(13.0, C)) == []
    assert trace.passed(50.0) == trace.flush() == []


def test_a_last_chord_that_is_wrong_may_be_put_right_for_four_seconds(make_plan: PlanMaker) -> None:
    """Then the drill is over."""
    plan = make_plan(ROUND[:2])
    for later_s, verdicts in ((3.9, [*hits(0), (1, 1, NEAR), (1, 2, HIT)]), (4.1, [*hits(0), (1, 1, NEAR)])):
        trace = tracing(plan)
        found = [one for at_s, struck in every(2.0, C, SLIP) for one in trace.feed(stroke(at_s, struck))]
        found += trace.feed(stroke(12.008 + later_s, F)) + trace.passed(60.0)
        assert said(found) == verdicts
        assert trace.finished


def test_noodling_after_the_last_chord_is_not_judged(make_plan: PlanMaker) -> None:
    """Nor does an unfinished drill end by it."""
    assert fed(tracing(make_plan(ROUND[:2])), *every(2.0, C, F), *every(0.3, *RUN, from_s=14.0)) == hits(0, 1)
    trace = tracing(make_plan(ROUND))
    assert fed(trace, (10.0, C), *every(0.3, *RUN, from_s=12.0)) == hits(0)
    assert not trace.finished


def test_whoever_seems_to_be_at_the_end_and_is_silent_for_long_has_ended(make_plan: PlanMaker) -> None:
    """The same chords twice over, and a long rest before the last of the first time: left out, or all begun again.
    After ten seconds more, nothing will tell, and the likelier of the two stands."""
    trace = tracing(make_plan(ROUND[:4] * 2))
    strokes = [*every(2.0, C, F, G), *every(2.0, C, F, G, AM, from_s=28.0)]
    found = [one for at_s, struck in strokes for one in trace.feed(stroke(at_s, struck))]
    found += trace.passed(43.9)
    assert trace.step == 8
    assert len({step for step, *_ in said(found)}) < 8
    assert not trace.finished
    found += trace.passed(44.1)
    assert {step for step, *_ in said(found)} == set(range(8))
    assert trace.finished


def test_with_the_click_a_drill_is_over_by_the_click(make_plan: PlanMaker) -> None:
    """A second after the last chord's time, whatever was played."""
    for strokes in ([], [(10.0, C)], [(10.0, C), (12.0, F)]):
        trace = tracing(make_plan(ROUND[:2]), ANCHOR)
        for at_s, struck in strokes:
            trace.feed(stroke(at_s, struck))
        trace.passed(14.0 + SETTLE_S - 0.01)
        assert not trace.finished
        trace.passed(14.0 + SETTLE_S)
        assert trace.finished


@pytest.mark.parametrize("ends_after_s", [0.02, 0.3, 1.5, 30.0])
@pytest.mark.parametrize("mark", [END, PAUSE])
@CLICK_OR_NOT
def test_the_last_chord_put_right_at_the_very_end_of_a_take(
    make_plan: PlanMaker, make_messages: TakeMaker, anchor: Anchor | None, mark: str, ends_after_s: float
) -> None:
    """However soon the take ends or pauses after it, and though nothing follows: a finger that finds its fret within a
    fifth of a second was right at once, and a chord tried again is a second attempt."""
    plan = make_plan(ROUND[:2])
    for mended_s, mended, verdicts in (
        (0.17, (69,), [(0, 1, HIT), (1, 1, HIT)]),
        (1.5, F, [(0, 1, HIT), (1, 1, NEAR), (1, 2, HIT if anchor is None else NEAR)]),
    ):
        messages = make_messages([(10.0, C)], ring_s=0.8)
        messages += [Message(on_grid(12.0 + 0.004 * place), (0x90, note, 80)) for place, note in enumerate(SLIP)]
        messages += [Message(on_grid(12.0 + mended_s - 0.01), (0x80, 70, 0))]
        messages += [Message(on_grid(12.0 + mended_s), (0x90, note, 80)) for note in mended]
        ends = Mark(on_grid(12.0 + mended_s + ends_after_s), mark)
        assert said(judge_take(plan, SINGLE, Take(tuple(messages), (ends,)), anchor)) == verdicts


def test_a_take_without_marks_ends_with_its_last_message(make_plan: PlanMaker, make_messages: TakeMaker) -> None:
    """What was played last counts, settled or not."""
    for last, grade in ((F, HIT), (SLIP, NEAR), ((53, 60), NEAR)):
        messages = make_messages(every(2.0, C, last))
        assert said(judge_take(make_plan(ROUND), SINGLE, Take(tuple(messages)))) == [(0, 1, HIT), (1, 1, grade)]


def test_a_plan_without_steps(make_plan: PlanMaker) -> None:
    """Nothing to do is done."""
    plan = make_plan([])
    assert Trace(plan).finished
    assert tracing(plan).feed(stroke(1.0, C)) == []


# Kept beside the verdicts -----------------------------------------------------------------------------------------


def test_strokes_are_kept_as_they_were_understood(make_plan: PlanMaker) -> None:
    """A chord broken into its strings is one, noodling is there too, in the order of time; none if nobody asks."""
    trace = tracing(make_plan(ROUND))
    trace.strokes = []
    strings = [(10.0 + 0.5 * place, (note,)) for place, note in enumerate(C)]
    fed(trace, *strings, *every(0.3, *RUN, from_s=13.0), *every(2.0, F, G, from_s=18.0))
    assert [one.struck_pitches for one in trace.strokes] == [C, *RUN, F, G]
    assert all(one.settled for one in trace.strokes)
    quiet = tracing(make_plan(ROUND))
    fed(quiet, *every(2.0, C, F))
    assert quiet.strokes is None


# Laws -------------------------------------------------------------------------------------------------------------

ANYTHING = st.one_of(
    st.sampled_from([notes for _, notes in ROUND]),
    st.sampled_from([SLIP, WILD, (53, 60), (48, 55, 65)]),
    st.sampled_from([(note,) for _, chord in ROUND for note in chord]),
    st.sets(st.integers(40, 84), min_size=1, max_size=4).map(lambda notes: tuple(sorted(notes))),
)
TAKES = st.lists(st.tuples(st.integers(80, 3000), ANYTHING, st.sampled_from([(), (), C, (60,)])), max_size=20)
TIMES = st.lists(st.floats(9.0, 60.0), max_size=30)


def in_time(moments: Sequence[tuple[int, Chord, Chord]]) -> list[Stroke]:
    """From the click's first beat on."""
    found, now_ms = [], 9800
    for wait_ms, struck, held in moments:
        now_ms += wait_ms
        found.append(stroke(now_ms / 1000, struck, tuple(note for note in held if note not in struck)))
    return found


def traced(
    plan: Plan,
    strokes: Sequence[Stroke],
    anchor: Anchor | None,
    *,
    ticks: Sequence[float] = (),
    growing: bool = False,
    strict: bool = False,
) -> list[Verdict]:
    """Everything that is said, with the time told now and then, and with strokes also while they grow."""
    trace = tracing(plan, anchor)
    if strict:
        trace.until_right()
    found: list[Verdict] = []
    pending = sorted(ticks)
    for one in strokes:
        while pending and pending[0] <= one.onset_s:
            found += trace.passed(pending.pop(0))
        if growing:
            for strings in range(1, len(one.struck) + 1):
                found += trace.feed(replace(one, struck=one.struck[:strings], settled=False))
        found += trace.feed(one)
    for tick in pending:
        found += trace.passed(tick)
    return found + trace.passed(70.0) + trace.flush()


@settings(max_examples=examples(60))
@given(TAKES, TIMES, st.booleans(), st.booleans(), st.booleans())
def test_nothing_depends_on_how_often_anybody_asks(
    make_plan: Callable[..., Plan],
    moments: list[tuple[int, Chord, Chord]],
    ticks: list[float],
    click: bool,
    growing: bool,
    strict: bool,
) -> None:
    """Settled verdicts are the same whenever time is told, and whether or not strokes are shown while they grow."""
    plan, strokes = make_plan(ROUND), in_time(moments)
    anchor = ANCHOR if click else None
    quiet = [one for one in traced(plan, strokes, anchor, strict=strict) if one.settled]
    busy = traced(plan, strokes, anchor, ticks=ticks, growing=growing, strict=strict)
    assert [one for one in busy if one.settled] == quiet


@settings(max_examples=examples(60))
@given(TAKES, st.booleans())
def test_verdicts_are_in_order(
    make_plan: Callable[..., Plan], moments: list[tuple[int, Chord, Chord]], click: bool
) -> None:
    """Attempts at a step are counted from one, nothing is said of a step that was right already unless the player came
    back to it, what was not played is said at most once, and nothing is said twice of one stroke."""
    verdicts = [one for one in traced(make_plan(ROUND), in_time(moments), ANCHOR if click else None) if one.settled]
    counted: dict[int, int] = {}
    for one in verdicts:
        counted[one.step] = counted.get(one.step, 0) + 1
        assert one.attempt == counted[one.step]
        assert bool(one.heard) or one.attempt == 1
    onsets = [one.onset_s for one in verdicts if one.heard]
    assert len(set(onsets)) == len(onsets)


@settings(max_examples=examples(60))
@given(TAKES)
@example([(80, notes, ()) for notes in (F, F, C, G, (48,), (48,), F)])
@example([(500, (48,), ()), (500, (55,), ()), (500, (64,), ()), (900, (48, 55, 65), ()), (2000, F, ()), (2000, G, ())])
@example([(80, SLIP, ()), (80, (48,), C), (80, G, ()), (80, F, ())])
def test_until_right_no_step_is_passed_before_it_is_right(
    make_plan: Callable[..., Plan], moments: list[tuple[int, Chord, Chord]]
) -> None:
    """Steps in their order, each at last right before the next one."""
    solved = -1
    for one in traced(make_plan(ROUND), in_time(moments), None, strict=True):
        if one.settled:
            assert one.step in (solved, solved + 1)
            solved = max(solved, one.step) if one.grade == HIT else solved


def test_a_pause_and_a_jump_by_marks(make_plan: PlanMaker, make_messages: TakeMaker) -> None:
    """What is open when the player pauses is judged, and nothing in the pause."""
    judge = TakeJudge(make_plan(ROUND), SINGLE)
    found = [one for message in make_messages([(10.0, C), (12.0, SLIP)]) for one in judge.feed(message)]
    found += judge.mark(Mark(12.9, PAUSE))
    for message in make_messages([(13.0, G), (15.0, AM)]):
        found += judge.feed(message)
    found += judge.mark(step_mark(16.0, judge.next_unplayed))
    for message in make_messages([(17.0, F), (19.0, G)]):
        found += judge.feed(message)
    assert said(found + judge.mark(Mark(22.0, END))) == [(0, 1, HIT), (1, 1, NEAR), (1, 2, HIT), (2, 1, HIT)]


@CLICK_OR_NOT
def test_a_tune_over_a_chord_is_told_when_it_was_left(make_plan: PlanMaker, anchor: Anchor | None) -> None:
    """Its notes in their order, by the chord's names; strings below its top are not told of."""
    trace = tracing(make_plan(ROUND), anchor)
    trace.feed(stroke(10.0, C))
    for at_s, note in ((10.5, 67), (11.0, 70), (11.4, 67)):
        trace.feed(stroke(at_s, (note,), C))
    trace.feed(stroke(12.0, F))
    trace.feed(stroke(12.6, (57,), F))
    trace.feed(stroke(14.0, G))
    trace.feed(stroke(16.0, AM))
    trace.flush()
    assert trace.asides == [(0, Fill(("G4", "Bb4", "G4")))]


# Whose habits are learnt ------------------------------------------------------------------------------------------


def picked(at_s: float, chord: Sequence[int], gap_s: float = 0.4) -> list[tuple[float, Chord]]:
    """String by string."""
    return [(at_s + gap_s * place, (note,)) for place, note in enumerate(chord)]


def test_who_picks_every_chord_and_who_tries_a_grip(make_plan: PlanMaker) -> None:
    """Two strings of a chord, and then all of it one by one: of somebody who picks that was an attempt; who strums was
    only trying the grip."""
    for picks, attempts in ((True, [(3, 1, NEAR), (3, 2, HIT)]), (False, [(3, 1, HIT)])):
        before = [
            one
            for n, chord in enumerate((C, F, G))
            for one in (picked(10 + 3 * n, chord) if picks else [(10 + 3 * n, chord)])
        ]
        trace = tracing(make_plan(ROUND))
        found = fed(trace, *before, *picked(19, AM[:2]), *picked(22, AM), (26, DM))
        assert [one for one in found if one[0] == 3] == attempts


def test_two_tones_together_after_a_breath_are_no_noodling(make_plan: PlanMaker) -> None:
    """Right after single notes they may be."""
    for breath_s, attempts in ((1.0, [(0, 1, NEAR), (0, 2, HIT)]), (0.3, [(0, 1, HIT)])):
        strokes = [*every(0.3, *RUN, from_s=10.0)]
        at_s = strokes[-1][0] + breath_s
        found = fed(tracing(make_plan(ROUND)), *strokes, (at_s, C[:2]), (at_s + 2, C), (at_s + 4, F))
        assert [one for one in found if one[0] == 0] == attempts
