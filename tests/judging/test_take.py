"""From messages to verdicts: own pace and click, live and replayed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from by_hand import with_ticks
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import SAME_CHORD, SAME_FINGERING, SAME_KIND
from listener.following.pace import Anchor
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take, read_take, take_bytes
from listener.judging.account import Account
from listener.judging.take import END, PAUSE, TakeJudge, judge_take, step_mark
from listener.judging.verdict import HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan

#: Its delay is left out here, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
VERSE = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("C", (48, 55, 64))]


def judged(
    plan: Plan, messages: list[Message], marks: tuple[Mark, ...] = (), anchor: Anchor | None = None
) -> list[Verdict]:
    return judge_take(plan, SINGLE, Take(tuple(messages), marks, None), anchor)


def test_a_perfect_take_is_all_hits(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Every chord as planned at own pace: four hits in order, the held common tones counted."""
    plan = make_plan(VERSE)
    verdicts = judged(plan, make_messages([(1.0 + 2 * n, notes) for n, (_, notes) in enumerate(VERSE)]))
    assert [(v.step, v.grade) for v in verdicts] == [(0, HIT), (1, HIT), (2, HIT), (3, HIT)]
    assert verdicts[1].movement is not None
    assert verdicts[1].movement.voices == (5, 5, 5)
    assert verdicts[0].movement is None


def test_one_slip_of_each_kind(make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]) -> None:
    """Top note changed, tone dropped, closed up, an octave low: exactly those steps fall, each with its own fault."""
    plan = make_plan([*VERSE, *VERSE])
    played = [notes for _, notes in [*VERSE, *VERSE]]
    played[1] = (53, 60, 70)
    played[3] = (48, 64)
    played[4] = (48, 52, 55)
    played[6] = (43, 50, 59)
    verdicts = judged(plan, make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(played)]))
    assert [v.step for v in verdicts] == list(range(8))
    assert {v.step: [f.code for f in v.faults] for v in verdicts if v.grade != HIT} == {
        1: ["top_note"],
        3: ["missing"],
        4: ["spacing"],
        6: ["octave"],
    }


def test_common_tones_that_ring_on_count(make_plan: Callable[..., Plan]) -> None:
    """C to Am with C and E left ringing: only the A is plucked, and it is a hit with the held tones named."""
    plan = make_plan([("C", (55, 60, 64)), ("Am", (57, 60, 64))])
    messages = [Message(on_grid(1 + 0.004 * n), (0x90, note, 80)) for n, note in enumerate((55, 60, 64))]
    messages += [Message(on_grid(2.0), (0x80, 55, 0)), Message(on_grid(2.002), (0x90, 57, 80))]
    verdicts = judged(plan, messages)
    assert [v.grade for v in verdicts] == [HIT, HIT]
    assert verdicts[1].held == (60, 64)
    assert verdicts[1].heard == (57, 60, 64)


def test_strings_that_ring_on_never_count_against(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """All notes of the first chord still ring under the second: still a hit."""
    plan = make_plan(VERSE[:2])
    verdicts = judged(plan, make_messages([(1.0, VERSE[0][1]), (2.0, VERSE[1][1])], ring_s=5.0))
    assert [v.grade for v in verdicts] == [HIT, HIT]


def test_a_chord_put_right_is_a_second_attempt(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Wrong, then right, then on: the correction belongs to the step it corrects and nothing shifts."""
    plan = make_plan(VERSE)
    strokes = [(48, 55, 65), (48, 55, 64), (53, 60, 69), (55, 62, 71), (48, 55, 64)]
    verdicts = judged(plan, make_messages([(1.0 + n, notes) for n, notes in enumerate(strokes)]))
    assert [(v.step, v.attempt, v.grade) for v in verdicts] == [
        (0, 1, NEAR), (0, 2, HIT), (1, 1, HIT), (2, 1, HIT), (3, 1, HIT),
    ]  # fmt: skip
    account = Account.of_take(plan, verdicts)
    assert (account.hits, account.nears, account.put_right, account.complete) == (3, 1, 1, True)


def test_a_chord_left_out_does_not_shift_the_rest(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """The second chord skipped: one miss that says so, the others are hits."""
    plan = make_plan([("C", (48, 55, 64)), ("Am7", (45, 55, 60, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71))])
    strokes = [(48, 55, 64), (53, 60, 69), (55, 62, 71)]
    verdicts = judged(plan, make_messages([(1.0 + n, notes) for n, notes in enumerate(strokes)]))
    assert [(v.step, v.grade) for v in verdicts] == [(0, HIT), (1, MISS), (2, HIT), (3, HIT)]
    assert verdicts[1].faults[0].code == "left_out"


def test_late_and_early_with_the_click(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """150 ms late and 120 ms early fall with their own fault; 60 ms does not."""
    plan = make_plan(VERSE)
    times = [10.0, 12.15, 13.88, 16.06]
    verdicts = judged(
        plan,
        make_messages([(t, notes) for t, (_, notes) in zip(times, VERSE, strict=True)]),
        anchor=Anchor(0, 10.0, 60.0),
    )
    assert [(v.grade, v.offset_ms) for v in verdicts] == [(HIT, 0.0), (NEAR, 150.0), (NEAR, -120.0), (HIT, 60.0)]
    assert [f.code for v in verdicts for f in v.faults] == ["late", "early"]
    assert verdicts[1].faults[0].text == "late by 150 ms"


def test_a_chord_that_nobody_played_is_missing_when_the_player_plays_on(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """A step that goes by unplayed is said to, and the next one is judged as usual. Who stops has stopped: nothing is
    said of the last one."""
    plan = make_plan(VERSE)
    verdicts = judged(
        plan, make_messages([(10.0, VERSE[0][1]), (14.0, VERSE[2][1])]), (Mark(19.0, END),), Anchor(0, 10.0, 60.0)
    )
    assert [(v.step, v.grade) for v in verdicts] == [(0, HIT), (1, MISS), (2, HIT)]
    assert [v.faults[0].code for v in verdicts if v.grade == MISS] == ["nothing"]


def test_noodling_in_the_count_in_is_not_judged(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Notes before the first step's time belong to nothing."""
    plan = make_plan(VERSE[:2])
    verdicts = judged(
        plan,
        make_messages([(6.0, (60, 64)), (7.5, (61,)), (10.0, VERSE[0][1]), (12.0, VERSE[1][1])]),
        anchor=Anchor(0, 10.0, 60.0),
    )
    assert [(v.step, v.grade) for v in verdicts] == [(0, HIT), (1, HIT)]


def test_nothing_is_judged_in_a_pause(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Between pause and going on the player may play what they like; the first chord after it moves from nowhere."""
    plan = make_plan(VERSE[:2])
    messages = make_messages([(1.0, VERSE[0][1]), (3.0, (40, 44)), (5.0, VERSE[1][1])])
    verdicts = judged(plan, messages, (Mark(2.0, PAUSE), step_mark(4.5, 1)))
    assert [(v.step, v.grade) for v in verdicts] == [(0, HIT), (1, HIT)]
    assert (verdicts[1].movement, verdicts[1].movement_score) == (None, None)


@pytest.mark.parametrize(
    ("strictness", "played", "grade"),
    [
        (SAME_KIND, (48, 55, 64), HIT),
        (SAME_KIND, (48, 52, 55), NEAR),
        (SAME_KIND, (60, 67, 76), NEAR),
        (SAME_CHORD, (60, 67, 76), HIT),
        (SAME_CHORD, (43, 48, 52, 60, 64), HIT),
        (SAME_CHORD, (48, 55), NEAR),
        (SAME_CHORD, (45, 48, 52), MISS),
        (SAME_FINGERING, (48, 55, 64), HIT),
    ],
)
def test_degrees_of_strictness(
    make_plan: Callable[..., Plan],
    make_messages: Callable[..., list[Message]],
    strictness: str,
    played: tuple[int, ...],
    grade: str,
) -> None:
    """The laxer the drill, the more shapes of the chord are right; a wrong tone never is."""
    plan = make_plan([("C", (48, 55, 64))], strictness=strictness)
    assert [v.grade for v in judged(plan, make_messages([(1.0, played)]))] == [grade]


def test_what_the_drill_leaves_out_is_not_missed(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Where any voicing of the chord is right and somebody else plays its root, third and seventh are enough."""
    plan = make_plan([("C7", (52, 55, 58))], strictness=SAME_CHORD)
    (rooted,) = plan.steps
    wish = replace(rooted.step.wish, without=("1",))
    rootless = replace(plan, steps=(replace(rooted, step=replace(rooted.step, wish=wish)),))
    for asked, grade in ((rootless, HIT), (plan, NEAR)):
        assert [v.grade for v in judged(asked, make_messages([(1.0, (58, 64))]))] == [grade]


def test_the_same_fingering_wants_the_same_strings(make_plan: Callable[..., Plan]) -> None:
    """Where the pickup tells strings apart, the right note on another string is near, and named."""
    plan = make_plan([("C", (48, 55, 64))], strictness=SAME_FINGERING)
    pickup = make_pickup("per-string")
    assert plan.steps[0].fingering.strings == (3, 2, 1)
    channels = [pickup.channel_of(string) for string in (3, 2, 4)]
    messages = [
        Message(on_grid(1 + 0.004 * n), (0x90 | channel - 1, note, 80))
        for n, (channel, note) in enumerate(zip(channels, (48, 55, 64), strict=True))
    ]
    verdicts = judge_take(plan, pickup, Take(tuple(messages), (), None))
    assert verdicts[0].grade == NEAR
    assert verdicts[0].faults[0].text == "E4 played on string 4, planned on 1"


def test_movement_score_is_against_the_least_from_what_was_played(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """C to F moved 15 semitones where 3 would do: 100 * (3 + 3) / (15 + 3) = 33.3 (DESIGN's formula by hand)."""
    plan = make_plan(VERSE[:2], options=[[(48, 55, 64)], [(53, 60, 69), (48, 57, 65)]])
    verdicts = judged(plan, make_messages([(1.0, VERSE[0][1]), (2.0, VERSE[1][1])]))
    assert verdicts[1].least == 3
    assert verdicts[1].movement_score == 33.3


def test_a_miss_is_not_scored_for_movement(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Whoever played another chord moved somewhere, but not to this one; what was almost right has its score."""
    plan = make_plan(VERSE[:2])
    for notes, grade, score in (((54, 61, 66), MISS, None), ((53, 60, 70), NEAR, 94.7)):
        found = judged(plan, make_messages([(1.0, VERSE[0][1]), (2.0, notes)]))[1]
        assert (found.grade, found.movement_score) == (grade, score)
        assert found.movement is not None


strokes_strategy = st.lists(
    st.tuples(st.floats(0.02, 1.5), st.sets(st.integers(45, 72), min_size=1, max_size=4), st.floats(0.0, 0.03)),
    min_size=1,
    max_size=8,
)


@given(strokes_strategy, st.lists(st.floats(0.0, 12.0), max_size=40), st.booleans())
def test_ticks_change_nothing(
    make_plan: Callable[..., Plan], played: list[tuple[float, set[int], float]], ticks: list[float], click: bool
) -> None:
    """However often time is told, the settled verdicts are the same, so live equals replay."""
    plan = make_plan(VERSE)
    messages, now = [], 0.5
    for wait_s, notes, gap_s in played:
        now += wait_s
        messages += [Message(on_grid(now + n * gap_s), (0x90, note, 90)) for n, note in enumerate(sorted(notes))]
        messages += [Message(on_grid(now + 0.4), (0x80, note, 0)) for note in sorted(notes)]
    messages.sort(key=lambda message: message.time_s)
    anchor = Anchor(0, 1.0, 90.0) if click else None
    end = Mark(on_grid(max(12.0, messages[-1].time_s)), END)
    quiet = judge_take(plan, SINGLE, Take(tuple(messages), (end,), None), anchor)
    busy = TakeJudge(plan, SINGLE, anchor)
    found = with_ticks(busy, messages, ticks) + busy.mark(end)
    assert [v for v in found if v.settled] == quiet


@given(strokes_strategy)
def test_a_take_written_and_read_gives_the_same_verdicts(
    make_plan: Callable[..., Plan], played: list[tuple[float, set[int], float]]
) -> None:
    """Through a Standard MIDI File and back, field for field."""
    plan = make_plan(VERSE)
    messages, now = [], 0.5
    for wait_s, notes, gap_s in played:
        now += wait_s
        messages += [Message(on_grid(now + n * gap_s), (0x90, note, 90)) for n, note in enumerate(sorted(notes))]
    messages.sort(key=lambda message: message.time_s)
    take = Take(tuple(messages), (Mark(messages[-1].time_s, END),), None)
    again = read_take(take_bytes(take), "take.mid")
    assert judge_take(plan, SINGLE, again) == judge_take(plan, SINGLE, take)


def test_an_unsettled_hit_comes_with_the_last_note(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """The verdict is there at the note that completes the chord, and is confirmed afterwards."""
    plan = make_plan(VERSE)
    judge = TakeJudge(plan, SINGLE)
    found = [judge.feed(Message(on_grid(1 + 0.004 * n), (0x90, note, 80))) for n, note in enumerate((48, 55, 64))]
    assert [len(one) for one in found] == [0, 0, 1]
    assert found[2][0].grade == HIT
    assert not found[2][0].settled
    assert [v.settled for v in judge.tick(1.2)] == [True]
