"""What a take comes to, and how steady it was."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.score import summarise, timing_of
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict


def verdicts(offsets: Sequence[float | None], grade: str = HIT) -> list[Verdict]:
    return [Verdict(step, 1, grade, (), (60,), (), 1.0, 0.0, offset_ms=ms) for step, ms in enumerate(offsets)]


def test_a_steady_offset_is_perfectly_steady() -> None:
    """Always 30 ms early: the bias is -30, the spread 0, and no count is lower for it."""
    summary = summarise(verdicts([-30.0] * 8), 8)
    assert (summary.timing_mean_ms, summary.timing_spread_ms, summary.steadiness) == (-30.0, 0.0, "very steady")
    assert (summary.hits, summary.nears, summary.misses) == (8, 0, 0)
    assert summary.as_json()["steadiness"] == "very steady"


@pytest.mark.parametrize(
    ("offsets", "word"),
    [
        ([100.0, 120.0, 100.0, 120.0], "very steady"),
        ([-20.0, 20.0, -20.0, 20.0], "very steady"),
        ([-21.0, 21.0, -21.0, 21.0], "steady"),
        ([-50.0, 50.0, -50.0, 50.0], "steady"),
        ([-51.0, 51.0, -51.0, 51.0], "not steady yet"),
        ([0.0, 200.0, 0.0], None),
        ([5.0], None),
    ],
)
def test_steadiness_words(offsets: list[float], word: str | None) -> None:
    """20 ms and 50 ms about the player's own mean (Hirsh 1959 in Watson 2004; Rasch 1979); too few say nothing."""
    timing = timing_of(verdicts(offsets))
    assert timing is not None
    assert timing.word == word


def test_no_click_no_timing() -> None:
    """At the player's own pace there is nothing to be early for; misses tell nothing about time."""
    assert timing_of(verdicts([None, None])) is None
    assert timing_of(verdicts([10.0, 20.0], MISS)) is None
    assert timing_of([]) is None


@given(st.lists(st.floats(-200, 200), min_size=4, max_size=20), st.floats(-100, 100))
def test_the_bias_never_changes_the_word(offsets: list[float], bias: float) -> None:
    """Playing everything later by the same amount moves the mean and leaves the spread."""
    one, other = timing_of(verdicts(offsets)), timing_of(verdicts([ms + bias for ms in offsets]))
    assert one is not None
    assert other is not None
    assert other.mean_ms == pytest.approx(one.mean_ms + bias, abs=0.11)
    assert one.spread_ms is not None
    assert other.spread_ms == pytest.approx(one.spread_ms, abs=0.11)


def test_first_attempts_count() -> None:
    """A step put right counts by its first attempt, and apart."""
    missed = Verdict(0, 1, NEAR, (Fault("extra", "one"),), (60,), (), 1.0, 0.0)
    righted = Verdict(0, 2, HIT, (), (60,), (), 2.0, 0.0)
    summary = summarise([missed, righted], 1)
    assert (summary.hits, summary.nears, summary.put_right, summary.faults) == (0, 1, 1, (("extra", 1),))
