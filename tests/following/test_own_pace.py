"""How fast the player goes: from change of chord to change of chord, a median, and nothing across jumps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.following.own_pace import OwnPace

#: Two chords that change, one that comes four times, and another.
CHORDS = ["C", "F", "G", "G", "G", "G", "C", "F"]
LENGTH_MS = 2000


def paced(begins: list[tuple[int, int]], chords: list[str] = CHORDS) -> OwnPace:
    """Told when steps begin: (ms, step)."""
    pace = OwnPace(chords, [LENGTH_MS] * len(chords))
    for onset_ms, step in begins:
        pace.begin(onset_ms, step)
    return pace


def test_before_anything_is_known_it_is_the_drills_own() -> None:
    """One step says too little."""
    assert paced([]).permille == 1000
    assert paced([(0, 0), (5000, 1)]).permille == 1000


def test_half_as_fast_is_twice_the_time() -> None:
    """From the second measured step on."""
    assert paced([(0, 0), (4000, 1), (8000, 2)]).permille == 2000
    assert paced([(0, 0), (1000, 1), (2000, 2)]).permille == 500


def test_equal_chords_are_measured_together() -> None:
    """Whichever stroke was which of them: from the first to the next change."""
    even = paced([(0, 2), (3000, 3), (6000, 4), (9000, 5), (12000, 6)])
    uneven = paced([(0, 2), (100, 3), (9000, 4), (11000, 5), (12000, 6)])
    assert even.permille == uneven.permille == 1500


def test_a_jump_measures_nothing() -> None:
    """Back, over steps, and where the caller says so."""
    assert paced([(0, 0), (9000, 4), (18000, 1)]).permille == 1000
    pace = paced([(0, 0), (2000, 1), (4000, 2)])
    pace.jump()
    pace.begin(60_000, 3)
    assert pace.permille == 1000
    chords = ["C", "F"] * 5
    assert paced([(0, 0), (30_000, 2), (60_000, 4), (90_000, 6), (91_000, 7), (92_000, 8)], chords).permille == 500


def test_one_long_wait_is_no_new_pace() -> None:
    """It is a median: the page was turned."""
    chords = ["C", "F"] * 5
    assert paced([(0, 0), (2000, 1), (4000, 2), (90_000, 3), (92_000, 4), (94_000, 5)], chords).permille == 1000


@given(st.integers(100, 8000), st.integers(0, 10**6))
def test_an_even_pace_is_found(step_ms: int, from_ms: int) -> None:
    """Whatever the hour."""
    found = paced([(from_ms + step_ms * step, step) for step in range(len(CHORDS))]).permille
    assert found == 1000 * step_ms // LENGTH_MS
