"""One take as the player drives it: pace, pause, passages, and a replay that agrees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take, take_bytes
from listener.judging.take import judge_take
from listener.judging.verdict import HIT, Verdict
from listener.planning.plan import Plan
from listener.session.take.practice import LEAD_S, Practice, TakeSettings
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, READY

#: Its delay is left out here, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
VERSE = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("C", (48, 55, 64))]
#: One bar of four at 60 after the lead.
FIRST_BEAT_S = LEAD_S + 4.0


def play(practice: Practice, messages: list[Message], until_s: float) -> list[Verdict]:
    """Feed messages in time with ticks every 20 ms, as the loop does."""
    found: list[Verdict] = []
    pending = list(messages)
    for step in range(int(until_s * 50)):
        now_s = step / 50
        while pending and pending[0].time_s <= now_s:
            found += practice.feed(pending.pop(0))
        found += practice.tick(now_s)
    return [verdict for verdict in found if verdict.settled]


def test_with_the_click_from_count_in_to_end(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Count-in, four chords in time, finished by itself."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0))
    assert practice.snapshot(1.0).phase == COUNT_IN
    messages = make_messages([(FIRST_BEAT_S + 2 * n, notes) for n, (_, notes) in enumerate(VERSE)])
    verdicts = play(practice, messages, 20.0)
    assert [v.grade for v in verdicts] == [HIT] * 4
    assert [v.offset_ms for v in verdicts] == [0.0] * 4
    assert practice.ended
    assert practice.snapshot(20.0).phase == FINISHED


def test_the_click_goes_on_by_itself(make_plan: Callable[..., Plan]) -> None:
    """Nobody plays a drill of two bars: the take ends, and nothing is held against anybody."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0))
    assert play(practice, [], 20.0) == []
    assert practice.ended


def test_pause_and_go_on_with_the_click(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Paused before the second chord: a new count-in, and the second chord is due after it."""
    practice = Practice(make_plan(VERSE[:2]), SINGLE, TakeSettings(tempo=60.0))
    found = []
    for message in make_messages([(FIRST_BEAT_S, VERSE[0][1])]):
        found += practice.feed(message)
    found += practice.tick(5.4)
    practice.pause_or_resume(5.5)
    assert practice.snapshot(6.0).phase == PAUSED
    assert practice.clicks(30.0) == []
    found += practice.pause_or_resume(31.0)
    assert practice.snapshot(32.0).phase == COUNT_IN
    for message in make_messages([(31.0 + FIRST_BEAT_S, VERSE[1][1])]):
        found += practice.feed(message)
    found += practice.tick(60.0)
    assert [(v.step, v.grade, v.offset_ms) for v in found if v.settled] == [(0, HIT, 0.0), (1, HIT, 0.0)]


def test_at_own_pace_nothing_hurries(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """An hour between two chords changes nothing, and there is no click."""
    practice = Practice(make_plan(VERSE[:2]), SINGLE, TakeSettings(tempo=None))
    assert practice.snapshot(0.0).phase == PLAYING
    found = []
    for message in make_messages([(1.0, VERSE[0][1]), (3600.0, VERSE[1][1])]):
        found += practice.feed(message)
        assert practice.next_click_s() is None
    found += practice.tick(3601.0)
    assert [v.grade for v in found if v.settled] == [HIT, HIT]
    assert practice.ended


def test_until_it_is_right(make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]) -> None:
    """Nobody goes on before a chord is right: another chord is one more try, whatever chord of the drill it is; after
    that the next one is due, and it begins where the take does."""
    plan = make_plan(VERSE)
    practice = Practice(plan, SINGLE, TakeSettings(tempo=None, first_step=1, until_right=True))
    assert [mark.word for mark in practice.marks] == ["step 1", "until right"]
    (_, f), (_, g) = VERSE[1:3]
    wrong = [(1.0, (53, 60, 68)), (3.0, g), (5.0, (53, 61, 69)), (7.0, g)]
    verdicts = play(practice, make_messages(wrong), 9.0)
    assert {verdict.step for verdict in verdicts} == {1}
    assert HIT not in {verdict.grade for verdict in verdicts}
    assert practice.snapshot(9.0).step == 1
    assert practice.snapshot(9.0).until_right
    later = Practice(plan, SINGLE, TakeSettings(tempo=None, first_step=1, until_right=True))
    verdicts = play(later, make_messages([*wrong, (9.0, f), (11.0, g)]), 13.0)
    assert [(verdict.step, verdict.grade) for verdict in verdicts if verdict.grade == HIT] == [(1, HIT), (2, HIT)]
    assert later.snapshot(13.0).step == 3
    assert judge_take(plan, SINGLE, read_take(take_bytes(later.take()), "take.mid")) == list(later.verdicts)


def test_messages_that_run_backwards_are_put_in_order(make_plan: Callable[..., Plan]) -> None:
    """A time before the last one counts as the last one's."""
    practice = Practice(make_plan(VERSE[:1]), SINGLE, TakeSettings(tempo=None))
    practice.feed(Message(2.0, (0x90, 48, 80)))
    practice.feed(Message(1.0, (0x90, 55, 80)))
    assert [message.time_s for message in practice.take().messages] == [2.0, 2.0]


strokes = st.lists(
    st.tuples(st.floats(0.01, 3.0), st.sampled_from([notes for _, notes in VERSE] + [(48, 56, 64), (60,)])),
    min_size=1,
    max_size=10,
)
keys = st.lists(st.tuples(st.floats(0.0, 25.0), st.sampled_from(["pause", "next"])), max_size=4)


@given(strokes, keys, st.booleans())
def test_a_replay_of_the_take_gives_the_same_verdicts(
    make_plan: Callable[..., Plan],
    make_messages: Callable[..., list[Message]],
    played: list[tuple[float, tuple[int, ...]]],
    pressed: list[tuple[float, str]],
    click: bool,
) -> None:
    """Whatever is played and pressed: the take, written and read again, is judged exactly as it was live."""
    plan = make_plan(VERSE)
    now, placed = 0.0, []
    for wait_s, notes in played:
        now += wait_s
        placed.append((now, notes))
    practice = Practice(plan, SINGLE, TakeSettings(tempo=90.0 if click else None))
    moments = [(message.time_s, 0, message) for message in make_messages(placed)]
    moments += [(time_s, 1, word) for time_s, word in pressed]
    live: list[Verdict] = []
    for time_s, _, what in sorted(moments, key=lambda moment: moment[:2]):
        live += practice.tick(time_s)
        if isinstance(what, Message):
            live += practice.feed(what)
        elif what == "pause":
            live += practice.pause_or_resume(time_s)
        else:
            live += practice.next_passage(time_s)
    live += practice.end(40.0)
    again = read_take(take_bytes(practice.take()), "take.mid")
    assert judge_take(plan, SINGLE, again) == [verdict for verdict in live if verdict.settled]
    assert list(practice.verdicts) == [verdict for verdict in live if verdict.settled]


def test_the_click_starts_with_the_first_strum(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """However long the player waits: no beat before, the first chord on the first beat, and a replay agrees."""
    for pickup in (SINGLE, make_pickup("single")):
        settings = TakeSettings(tempo=60.0, on_strum=True)
        practice = Practice(make_plan(VERSE), pickup, settings)
        assert practice.snapshot(0.0).phase == READY
        assert practice.clicks(3.0) == []
        start_s = 7.3
        late_s = pickup.delay_s(130.8)  # the lowest note of the first chord, C3
        messages = make_messages([(start_s + late_s + 2 * n, notes) for n, (_, notes) in enumerate(VERSE)])
        verdicts = play(practice, messages, 20.0)
        assert [v.grade for v in verdicts] == [HIT] * 4
        assert practice.timetable is not None
        assert abs(practice.timetable.due_s[0] - start_s) < 0.001
        assert all(v.offset_ms is not None and abs(v.offset_ms) < 12 for v in verdicts)
        assert practice.ended
        take = read_take(take_bytes(practice.take()), "take")
        assert judge_take(make_plan(VERSE), pickup, take) == verdicts
    waiting = Practice(make_plan(VERSE), SINGLE, settings)
    assert play(waiting, [], 90.0) == []
    assert not waiting.ended
    assert waiting.snapshot(90.0).phase == READY


def test_back_to_the_passage_before(make_plan: Callable[..., Plan]) -> None:
    """From the second passage to the first, and from the first to its own beginning; never before the first step of a
    part, and not after the end."""
    plan = make_plan(VERSE)
    steps = [replace(one, step=replace(one.step, passage="ab"[index // 2])) for index, one in enumerate(plan.steps)]
    plan = replace(plan, steps=tuple(steps))
    for tempo in (None, 60.0):
        practice = Practice(plan, SINGLE, TakeSettings(tempo=tempo))
        practice.next_passage(1.0)
        assert practice.passage_start() == 2
        practice.passage_before(2.0)
        assert practice.passage_start() == 0
        practice.passage_before(3.0)
        assert practice.passage_start() == 0
        assert practice.snapshot(3.1).jumps == 3
        part = Practice(plan, SINGLE, TakeSettings(tempo=tempo, first_step=2, last_step=3))
        part.passage_before(1.0)
        assert part.passage_start() == 2
        practice.end(4.0)
        assert practice.passage_before(5.0) == []
        assert practice.ended
