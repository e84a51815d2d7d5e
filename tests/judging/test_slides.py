"""A slide that settles is judged when it has settled, and a replay agrees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from by_hand import make_plan
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.following.pace import Anchor
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take, read_take, take_bytes
from listener.judging.take import END, judge_take
from listener.planning.plan import Plan
from listener.session.take.practice import Practice, TakeSettings

__all__ = ["make_plan"]
STRINGS = make_pickup("per-string")
CHORDS = [("C", (48, 55, 64)), ("Csus4", (48, 55, 65)), ("F", (53, 60, 69)), ("C", (48, 55, 64))]


def test_a_slide_into_the_next_chord_is_a_hit(make_plan: Callable[..., Plan]) -> None:
    """C with its top note slid up a fret is Csus4, the lower strings held; nothing else need be played."""
    practice = Practice(make_plan(CHORDS[:2]), STRINGS, TakeSettings(tempo=None))
    found = []
    plucks = [(0x92, 48, 80), (0x91, 55, 80), (0x90, 64, 80)]
    for time_s, data in [*((1.0, pluck) for pluck in plucks), (2.0, (0xE0, 0, 96))]:
        found += practice.tick(time_s) + practice.feed(Message(time_s, data))
    for step in range(20):
        found += practice.tick(2.0 + step * 0.02)
    assert (found[-1].step, found[-1].grade) == (1, "hit")  # at once
    for step in range(160):
        found += practice.tick(2.4 + step * 0.02)
    assert [(v.step, v.grade) for v in found if v.settled] == [(0, "hit"), (1, "hit")]


def test_with_the_click_a_slide_is_on_time_when_it_arrives_on_time(make_plan: Callable[..., Plan]) -> None:
    """Not when it has been there for long enough to be a note: the offset counts from the arrival of the pitch."""
    plain = replace(STRINGS, delay_periods=0.0)
    plucks = [(0x92, 48, 80), (0x91, 55, 80), (0x90, 64, 80)]
    messages = [*(Message(10.0, pluck) for pluck in plucks), Message(12.01, (0xE0, 0, 96))]
    end = Mark(20.0, END)
    found = judge_take(make_plan(CHORDS[:2]), plain, Take(tuple(messages), (end,)), Anchor(0, 10.0, 60.0))
    assert [(v.step, v.grade, v.offset_ms) for v in found] == [(0, "hit", 0.0), (1, "hit", 10.0)]


data = st.one_of(
    st.tuples(st.integers(0x90, 0x92), st.sampled_from([48, 53, 55, 60, 64, 65, 69]), st.sampled_from([0, 20, 80])),
    st.tuples(st.integers(0xE0, 0xE2), st.just(0), st.sampled_from([0, 32, 64, 80, 96, 127])),
)


@settings(max_examples=examples(300))
@given(st.lists(st.tuples(st.floats(0.0, 0.4), data), max_size=40), st.booleans())
def test_with_slides_a_replay_gives_the_same_verdicts(
    make_plan: Callable[..., Plan], rows: list[tuple[float, tuple[int, ...]]], click: bool
) -> None:
    """Live with fifty ticks a second, and from the file with none between the messages."""
    practice = Practice(make_plan(CHORDS * 2), STRINGS, TakeSettings(tempo=120.0 if click else None))
    now_s, pending = 2.0 if click else 0.0, []
    for wait_s, message in rows:
        now_s = on_grid(now_s + wait_s)
        pending.append(Message(now_s, message))
    for step in range(int(now_s * 50) + 100):
        while pending and pending[0].time_s <= step / 50:
            practice.feed(pending.pop(0))
        practice.tick(step / 50)
    practice.end(now_s + 3.0)
    again = read_take(take_bytes(practice.take()), "take.mid")
    assert judge_take(practice.plan, STRINGS, again) == list(practice.verdicts)
