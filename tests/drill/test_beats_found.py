"""Tempo, meter and bars of playing: with the click, and without one."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise
from random import Random

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from listener.drill.making.beats_found import Click, Struck, with_click, without_click


def struck(beats: Sequence[float], tempo: float) -> list[Struck]:
    """Chords of these lengths, one after the other, from second 1 on."""
    return [Struck(1 + 60 / tempo * start) for start in accumulate(beats, initial=0.0)]


def lengths(starts: Sequence[Fraction]) -> list[float]:
    return [float(after - before) for before, after in pairwise(starts)]


@example([4, 4, 3], 40.0, (3, 4))  # read a twelfth of an octave faster it would lie better in its bars
@given(
    st.lists(st.sampled_from([1, 2, 3, 4]), min_size=1, max_size=24),
    st.floats(40, 180),
    st.sampled_from([(4, 4), (3, 4)]),
)
def test_even_playing_at_a_tempo_that_was_said_is_read_as_it_was_played(
    beats: list[int], tempo: float, meter: tuple[int, int]
) -> None:
    """Where the bar lines fall may be another matter: nobody can hear an upbeat in equal chords."""
    (starts,) = without_click([struck(beats, tempo)], tempo=tempo, meter=meter).starts
    assert lengths(starts) == beats


@pytest.mark.parametrize("tempo", [48.0, 60.0, 72.0, 96.0, 120.0])
@pytest.mark.parametrize(
    ("beats", "meter"),
    [
        ([4, 4, 4, 4, 4, 4, 4, 4], (4, 4)),
        ([4, 2, 2, 4, 2, 2, 4, 4], (4, 4)),
        ([2, 1, 2, 1, 3, 2, 1, 2, 1, 3], (3, 4)),
        ([3, 1, 2, 2, 4, 3, 1, 2, 2, 4], (4, 4)),
    ],
)
def test_uneven_playing_is_read_along_its_own_wandering(beats: list[int], meter: tuple[int, int], tempo: float) -> None:
    """Each chord is up to eight per cent too long or too short, and the whole gets slower by a tenth."""
    random = Random(5)
    times = [1.0]
    for place, length in enumerate(beats * 3):
        slower = 1 + 0.1 * place / (3 * len(beats))
        times.append(times[-1] + 60 / tempo * length * slower * random.uniform(0.92, 1.08))
    (starts,) = without_click([[Struck(time_s) for time_s in times]], tempo=tempo, meter=meter).starts
    assert lengths(starts) == beats * 3


@pytest.mark.parametrize(("seconds", "tempo"), [(4.0, 60), (3.0, 80), (2.4, 100), (2.0, 120)])
def test_a_chord_a_bar_is_what_equal_chords_are_taken_for(seconds: float, tempo: float) -> None:
    """Four beats each, at a tempo that people walk at; twice as fast with eight beats would be as true."""
    found = without_click([[Struck(seconds * n) for n in range(12)]])
    assert (found.tempo, found.meter) == (tempo, (4, 4))
    assert lengths(found.starts[0]) == [4] * 11


def test_strums_tell_the_beat() -> None:
    """Chords of five seconds, with eighths at 96: the strums say that it is no chord a bar of four."""
    strokes = [
        Struck(5 * chord + 60 / 96 / 2 * eighth, begins=not eighth) for chord in range(6) for eighth in range(16)
    ]
    found = without_click([strokes])
    assert found.tempo in (48, 96, 192)
    assert lengths(found.starts[0]) == [5 * found.tempo / 60] * 5


@given(
    st.lists(st.sampled_from([0.5, 1, 1.5, 2, 4]), min_size=1, max_size=40),
    st.floats(40, 160),
    st.integers(0, 2**16),
)
def test_with_the_click_every_chord_finds_its_place(beats: list[float], tempo: float, seed: int) -> None:
    """A sixteenth of a beat early or late, and 20 ms more: half a beat is told from its neighbours."""
    random = Random(seed)
    places = list(accumulate(beats, initial=0.0))
    onsets = [2 + 60 / tempo * (place + random.uniform(-1 / 16, 1 / 16)) for place in places]
    (starts,) = with_click([(Click(2.0, tempo), onsets)], (4, 4)).starts
    assert [float(start) for start in starts] == places


def test_with_the_click_the_meter_can_be_found() -> None:
    """A waltz: a chord on every first beat, now and then one on the third."""
    places = [0, 3, 5, 6, 9, 11, 12, 15, 17, 18, 21, 24]
    found = with_click([(Click(2.0, 90.0), [2 + 60 / 90 * place for place in places])], None)
    assert (found.meter, found.tempo) == ((3, 4), 90.0)


@given(st.lists(st.floats(0.001, 100), min_size=1, max_size=60))
def test_whatever_is_played_every_chord_comes_after_the_one_before(gaps: list[float]) -> None:
    """Any distances at all, with the click and without."""
    onsets = list(accumulate(gaps, initial=0.0))
    (starts,) = without_click([[Struck(onset_s) for onset_s in onsets]]).starts
    assert all(length > 0 for length in lengths(starts))
    (starts,) = with_click([(Click(0.0, 90.0), onsets)], None).starts
    assert all(length > 0 for length in lengths(starts))
