"""The tempo ladder."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.judging.account import Account
from listener.session.ladder import Ladder, is_clean, ladder_words


def played(hits: int, nears: int, misses: int, steps: int | None = None, reached: int | None = None) -> Account:
    """A take of a drill with so many steps, by default just those; it went as far as it was played."""
    judged = hits + nears + misses
    steps = judged if steps is None else steps
    return Account(steps=steps, reached=judged if reached is None else reached, hits=hits, nears=nears, misses=misses)


def test_up_down_and_stay() -> None:
    """Clean climbs 4 %, rough comes down two rungs, in between stays, three times in between comes down one."""
    ladder = Ladder(100, 60, 120)
    assert ladder.after(played(20, 0, 0)).tempo == 104
    assert ladder.after(played(10, 5, 5)).tempo == 92
    stays = ladder.after(played(16, 4, 0))
    assert (stays.tempo, stays.stayed) == (100, 1)
    twice = stays.after(played(16, 4, 0))
    assert twice.after(played(16, 4, 0)) == Ladder(96, 60, 120, 0)


def test_a_near_is_allowed_in_a_long_clean_take_but_a_miss_is_not() -> None:
    """Nineteen of twenty with a near climbs; with a miss it stays."""
    assert Ladder(100, 60, 120).after(played(19, 1, 0)).tempo == 104
    assert Ladder(100, 60, 120).after(played(19, 0, 1)).tempo == 100


def test_a_take_that_was_broken_off_changes_nothing() -> None:
    """Half a take says nothing about the tempo, and is not clean however well it went."""
    for half in (played(4, 0, 0, steps=8), played(0, 0, 4, steps=8), played(0, 0, 0, steps=8)):
        assert Ladder(100, 60, 120).after(half) == Ladder(100, 60, 120)
        assert not is_clean(half)


def test_a_take_with_gaps_does_not_climb() -> None:
    """To the end, and all that was judged right; but of two chords nothing is known. A rough one comes down."""
    assert Ladder(100, 60, 120).after(played(6, 0, 0, steps=8, reached=8)) == Ladder(100, 60, 120, stayed=1)
    assert Ladder(100, 60, 120).after(played(3, 0, 3, steps=8, reached=8)).tempo == 92


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
        ladder = ladder.after(played(*take))
        assert ladder.lowest <= ladder.tempo <= ladder.highest
