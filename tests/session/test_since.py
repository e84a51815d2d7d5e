"""What improved since the last take of a drill, and the companion that says it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.account import Account
from listener.judging.verdict import HIT, NEAR, Verdict
from listener.planning.plan import Plan
from listener.session.companion import Companion
from listener.session.loop import Loop
from listener.session.rest import PAIN, RESTED_S, WORDS
from listener.session.since import WholeTake, improved, put_right
from listener.session.take.practice import TakeSettings
from listener.session.take.so_far import SoFar
from listener.session.take.state import FINISHED, PLAYING, Snapshot


def standing(
    tempo: float | None = 60.0,
    hits: int = 12,
    steps: int = 16,
    movement_score: float | None = 84.0,
    spread_ms: float | None = 31.0,
) -> WholeTake:
    """A whole take."""
    tenths = None if spread_ms is None else round(10 * spread_ms)
    account = Account(
        steps=steps, reached=steps, hits=hits, misses=steps - hits,
        moves=0 if movement_score is None else 1,
        score_tenths=0 if movement_score is None else round(10 * movement_score),
        onsets=0 if tenths is None else 2,
        offset_squares=0 if tenths is None else 2 * tenths**2,
    )  # fmt: skip
    found = WholeTake.of(account, tempo)
    assert found is not None
    return found


LAST = standing(hits=8)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, ""),
        ({"hits": 9}, ""),  # one chord more of sixteen is chance
        ({"hits": 13}, ""),  # and so may five be
        ({"hits": 14}, "Since last time: 6 more hits (14 of 16)."),
        ({"hits": 14, "tempo": 50.0}, ""),  # a slower click makes more hits
        ({"hits": 14, "tempo": None}, ""),
        ({"hits": 15, "tempo": 66.0}, "Since last time: 7 more hits (15 of 16), 66 beats a minute instead of 60."),
        ({"hits": 13, "tempo": 66.0}, ""),  # faster, and not reached
        ({"hits": 15, "tempo": 61.0}, "Since last time: 7 more hits (15 of 16)."),  # nobody notices one beat
        ({"movement_score": 91.2, "spread_ms": 8.0}, ""),  # two takes cannot show it
        ({"steps": 20, "hits": 20}, ""),
    ],
)
def test_only_what_improved_and_why(changes: dict[str, Any], said: str) -> None:
    """Praise has its reason and is more than chance; other changes say nothing, and nothing is ever held against."""
    assert improved(LAST, standing(**{"hits": 8, **changes})) == said
    assert improved(None, LAST) == improved(LAST, None) == ""


def test_a_faster_click_that_was_reached() -> None:
    """With as many hits as before, which are said, since speed by itself is nothing."""
    before = standing(hits=15)
    assert (
        improved(before, standing(66.0, 15)) == "Since last time: 66 beats a minute instead of 60, with 15 of 16 hits."
    )
    assert improved(before, standing(66.0, 14)) == ""


def test_whose_playing_does_not_change_is_hardly_ever_praised() -> None:
    """Eight hits in ten, take after take: at most one take in twenty is called better than the last."""
    random = Random(1)
    takes = [standing(hits=sum(random.random() < 0.8 for _ in range(16))) for _ in range(1000)]
    assert sum(bool(improved(before, now)) for before, now in pairwise(takes)) <= 50


standings = st.builds(
    standing, st.none() | st.floats(20, 400), st.integers(0, 16), st.just(16), st.none() | st.floats(0, 100),
    st.none() | st.floats(0, 200),
)  # fmt: skip


def test_a_take_that_was_not_whole_is_compared_with_nothing() -> None:
    """Broken off, or with a chord of which nothing is known; however well it went."""
    for far in ({"reached": 8, "hits": 8}, {"reached": 16, "hits": 15}):
        assert WholeTake.of(Account(steps=16, **far), 60.0) is None


@given(standings, standings)
def test_no_take_is_better_both_ways_in_the_same(one: WholeTake, other: WholeTake) -> None:
    """What improved from one take to another cannot have improved the other way round too."""
    there, back = improved(one, other), improved(other, one)
    for word in ("more hits", "beats a minute"):
        assert not (word in there and word in back)


@pytest.fixture
def plan(make_plan: Callable[..., Plan]) -> Plan:
    return make_plan([("C", (48, 55, 64)), ("F", (53, 60, 69))])


def verdict(step: int, grade: str = HIT) -> Verdict:
    return Verdict(step, 1, grade, (), (48, 55, 64), (), 0.0, 0.0)


def snapshot(plan: Plan, phase: str, *grades: str, note: str = "") -> Snapshot:
    verdicts = tuple(verdict(step, grade) for step, grade in enumerate(grades))
    return Snapshot(plan, phase, 0, None, SoFar.of(plan, verdicts), (), 0.0, 60.0, 1, 1, "a port", note)


def play(companion: Companion, plan: Plan, minutes: float, now_s: float = 0.0) -> float:
    for _ in range(round(minutes * 15)):
        now_s += 4.0
        companion.judged(plan, verdict(0), now_s)
    return now_s


def test_a_rest_is_proposed_and_stays_until_it_is_taken(plan: Plan) -> None:
    """After 25 minutes; said anew every five to whoever plays on; gone after a rest of five."""
    companion = Companion()
    now_s = play(companion, plan, 24)
    assert companion.dressed(snapshot(plan, PLAYING), now_s).note == ""
    now_s = play(companion, plan, 1.5, now_s)
    note = companion.dressed(snapshot(plan, PLAYING), now_s).note
    assert note == f"{WORDS} (25 minutes played). {PAIN}"
    assert companion.dressed(snapshot(plan, PLAYING), now_s + 60).note == note
    now_s = play(companion, plan, 6, now_s)
    assert "30 minutes" in companion.dressed(snapshot(plan, PLAYING), now_s).note
    assert companion.dressed(snapshot(plan, PLAYING), now_s + RESTED_S).note == ""


def test_silence_is_no_load_and_free_listening_is(plan: Plan) -> None:
    """Chords that were not played do not tire the hand; those that nobody planned do."""
    silent, free = Companion(), Companion()
    for number in range(600):
        silent.judged(plan, replace(verdict(0), heard=()), 4.0 * number)
        free.heard(4.0 * number)
    assert silent.load.playing_s == 0.0
    assert free.load.due


def test_what_is_pressing_goes_first(plan: Plan) -> None:
    """Trouble, then care, then the loop's words; between takes the loop's words and care together."""
    companion = Companion()
    companion.words = "next: step 2 (F), clean 1 of 3"
    assert companion.dressed(snapshot(plan, PLAYING), 0.0).note == companion.words
    now_s = play(companion, plan, 26)
    assert companion.dressed(snapshot(plan, PLAYING, note="port gone"), now_s).note == "port gone"
    assert companion.dressed(snapshot(plan, PLAYING), now_s).note.startswith(WORDS)
    between = companion.dressed(snapshot(plan, FINISHED), now_s).note
    assert companion.words in between
    assert WORDS in between


def test_each_whole_take_is_compared_with_the_one_before(plan: Plan) -> None:
    """A take that was broken off neither improves nor counts as the last one."""
    companion = Companion(before=standing(50.0, 1, 2, None, None))
    better = snapshot(plan, FINISHED, HIT, HIT)
    assert companion.dressed(better, 0.0).since == "Since last time: 60 beats a minute instead of 50, with 2 of 2 hits."
    assert companion.dressed(replace(better, phase=PLAYING), 0.0).since == ""
    companion.ended(snapshot(plan, FINISHED, HIT))
    assert companion.dressed(better, 0.0).since
    companion.ended(better)
    assert companion.dressed(better, 0.0).since == ""
    assert companion.dressed(snapshot(plan, FINISHED, HIT, NEAR), 0.0).since == ""


def test_what_comes_is_what_the_loop_goes_on_with(plan: Plan) -> None:
    """At the end of a take that ended by itself; a take that was broken off goes on with nothing."""
    companion = Companion()
    companion.begins(Loop(plan, TakeSettings(60.0), with_spots=True))
    rough = snapshot(plan, FINISHED, HIT, NEAR)
    shown = companion.dressed(rough, 0.0)
    assert shown.coming == shown.note == "next: steps 1 to 2 (C to F), clean 0 of 3"
    clean = snapshot(plan, FINISHED, HIT, HIT)
    assert companion.dressed(clean, 0.0).coming == ""
    companion.broken_off = True
    assert companion.dressed(rough, 0.0).coming == ""
    companion.begins(Loop(plan, TakeSettings(None)))
    assert companion.dressed(rough, 0.0).coming == ""


def test_what_comes_after_the_last_take(plan: Plan) -> None:
    """In a day's plan another item follows: it is announced, and the key for going on does something."""
    companion = Companion()
    companion.then = "coming up: Low tide, 4 min"
    companion.begins(Loop(plan, TakeSettings(60.0), times=1))
    shown = companion.dressed(snapshot(plan, FINISHED, HIT, HIT), 0.0)
    assert shown.coming == shown.note == "coming up: Low tide, 4 min"
    assert "next" in shown.keys
    companion.begins(Loop(plan, TakeSettings(60.0), times=2))
    assert companion.dressed(snapshot(plan, FINISHED, HIT, HIT), 0.0).coming == "once more, 2 of 2"
    companion.broken_off = True
    companion.begins(Loop(plan, TakeSettings(60.0), times=1))
    companion.then = ""
    assert "next" not in companion.dressed(snapshot(plan, FINISHED, HIT, HIT), 0.0).keys


def test_put_right_is_said_before_anything_else() -> None:
    """A chord that was a hit at a later try, once however often it was tried."""
    first = verdict(0, NEAR)
    again = [replace(first, attempt=attempt, grade=HIT) for attempt in (2, 3)]
    verdicts = [first, *again]
    assert put_right(Account.of(verdicts, 2)) == "1 chord put right at once."
    assert put_right(Account.of(verdicts[:1], 2)) == ""
