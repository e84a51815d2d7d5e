"""The tempo ladder."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.judging.score import Summary
from listener.session.ladder import Ladder, ladder_words


def summary(hits: int, nears: int, misses: int, steps: int | None = None) -> Summary:
    total = hits + nears + misses
    return Summary(total if steps is None else steps, hits, nears, misses, 0, None, 0, None, None, ())


def test_up_down_and_stay() -> None:
    """Clean climbs 4 %, rough comes down two rungs, in between stays, three times in between comes down one."""
    ladder = Ladder(100, 60, 120)
    assert ladder.after(summary(20, 0, 0)).tempo == 104
    assert ladder.after(summary(10, 5, 5)).tempo == 92
    stays = ladder.after(summary(16, 4, 0))
    assert (stays.tempo, stays.stayed) == (100, 1)
    twice = stays.after(summary(16, 4, 0))
    assert twice.after(summary(16, 4, 0)) == Ladder(96, 60, 120, 0)


def test_a_near_is_allowed_in_a_long_clean_take_but_a_miss_is_not() -> None:
    """Nineteen of twenty with a near climbs; with a miss it stays."""
    assert Ladder(100, 60, 120).after(summary(19, 1, 0)).tempo == 104
    assert Ladder(100, 60, 120).after(summary(19, 0, 1)).tempo == 100


def test_a_take_that_was_broken_off_changes_nothing() -> None:
    """Half a take says nothing about the tempo."""
    assert Ladder(100, 60, 120).after(summary(4, 0, 0, steps=8)) == Ladder(100, 60, 120)


def test_words() -> None:
    """The player hears what changes, kindly; nothing when nothing does."""
    low, high = Ladder(60, 40, 90), Ladder(62, 40, 90)
    assert "62" in ladder_words(low, high)
    assert "60" in ladder_words(high, low)
    assert ladder_words(low, low) == ""


@given(
    st.floats(20, 400),
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20), st.integers(0, 20)), max_size=30),
)
def test_never_beyond_its_limits(tempo: float, takes: list[tuple[int, int, int]]) -> None:
    """Whatever is played, the tempo stays between the lowest and the highest."""
    ladder = Ladder(tempo, 0.6 * tempo, 1.2 * tempo)
    for take in takes:
        ladder = ladder.after(summary(*take))
        assert ladder.lowest <= ladder.tempo <= ladder.highest
