"""Searching the neck: placements and fingerings."""

from __future__ import annotations

from itertools import permutations

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_grip import plain_grip

from listener.errors import InstrumentError
from listener.guitar.grip import fingerings
from listener.guitar.hand import hand_names, make_hand
from listener.guitar.instrument import make_instrument
from listener.guitar.search import placements

GUITAR = make_instrument()
pitch_sets = st.lists(st.integers(40, 76), min_size=1, max_size=5)


@settings(max_examples=examples(60), deadline=None)
@given(pitches=pitch_sets, lowest=st.integers(0, 6), open_strings=st.booleans())
def test_placements_equal_brute_force(pitches: list[int], lowest: int, open_strings: bool) -> None:
    """Trying every order of strings for the pitches finds the same placements."""
    expected = set()
    for strings in permutations(range(1, 7), len(pitches)):
        frets = [pitch - GUITAR.pitch(string, 0) for pitch, string in zip(pitches, strings, strict=True)]
        if all(lowest <= fret <= 12 or (fret == 0 and open_strings) for fret in frets) and (
            open_strings or 0 not in frets
        ):
            expected.add(tuple(sorted(zip(strings, frets, strict=True), reverse=True)))
    found = placements(GUITAR, pitches, frets=(lowest, 12), open_strings=open_strings)
    assert len(found) == len(set(found))
    assert set(found) == expected


@settings(max_examples=examples(60), deadline=None)
@given(pitches=pitch_sets, name=st.sampled_from(hand_names()))
def test_fingerings_are_the_placements_a_hand_can_hold(pitches: list[int], name: str) -> None:
    """The short cuts of the search lose nothing and add nothing."""
    hand = make_hand(name)
    held = {plain_grip(GUITAR, hand, placement) for placement in placements(GUITAR, pitches)} - {None}
    found = fingerings(GUITAR, hand, pitches)
    assert set(found) == held
    assert all(fingering.pitches == tuple(sorted(pitches)) for fingering in found)
    assert [fingering.lowest_fret for fingering in found] == sorted(fingering.lowest_fret for fingering in found)


@settings(max_examples=examples(40), deadline=None)
@given(pitches=pitch_sets, strings=st.sets(st.integers(1, 6), min_size=1), lowest=st.integers(0, 9))
def test_limits_are_kept(pitches: list[int], strings: set[int], lowest: int) -> None:
    """Only the wished strings and frets are used."""
    for found in fingerings(
        GUITAR, make_hand(), pitches, strings=strings, frets=(lowest, lowest + 4), open_strings=False
    ):
        assert set(found.strings) <= strings
        assert all(max(1, lowest) <= fret <= lowest + 4 for fret in found.frets)


@settings(max_examples=examples(30), deadline=None)
@given(pitches=pitch_sets)
def test_left_handed_finds_the_same(pitches: list[int]) -> None:
    """A mirrored neck offers the same fingerings."""
    left = make_instrument(left_handed=True)
    assert fingerings(left, make_hand(), pitches) == fingerings(GUITAR, make_hand(), pitches)


def test_crossed_placements_are_included() -> None:
    """A higher note may lie on a lower string: C5 on string 2 above an open E4 on string 1."""
    assert ((2, 13), (1, 0)) in placements(GUITAR, [64, 72])


def test_capo_moves_the_search() -> None:
    """With a capo at 2, D major's notes lie where C major's did."""
    plain = fingerings(GUITAR, make_hand(), [48, 52, 55, 60, 64], frets=(0, 4))
    raised = fingerings(make_instrument(capo=2), make_hand("large"), [50, 54, 57, 62, 66], frets=(0, 4))
    assert {f.frets for f in plain} <= {f.frets for f in raised}
    assert (3, 2, 0, 1, 0) in {f.frets for f in plain}


def test_a_capo_brings_far_frets_within_reach() -> None:
    """Frets lie closer together up the neck: five of them are too many for a medium hand at the nut, and not behind a
    capo at 7."""
    for capo, held in ((0, []), (7, [(1, 5)])):
        guitar = make_instrument(capo=capo)
        pitches = [guitar.pitch(5, 1), guitar.pitch(4, 5)]
        assert [found.frets for found in fingerings(guitar, make_hand(), pitches, strings=(5, 4))] == held


def test_never_beyond_the_neck() -> None:
    """A short neck cuts the range of frets."""
    short = make_instrument(fret_count=12, capo=3)
    assert max(f.highest_fret for f in fingerings(short, make_hand(), [76], frets=(0, 20))) == 9


def test_two_equal_notes() -> None:
    """A unison on two strings is one placement, not two."""
    found = placements(GUITAR, [64, 64])
    assert ((2, 5), (1, 0)) in found
    assert len(found) == len(set(found))


def test_more_notes_than_strings() -> None:
    """Seven notes on six strings: nothing, and no error."""
    assert fingerings(GUITAR, make_hand(), [40, 45, 50, 55, 59, 64, 67]) == ()


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"strings": (7,)}, "no string 7"),
        ({"strings": (0,)}, "no string 0"),
        ({"strings": ()}, "no string may sound"),
        ({"frets": (7, 3)}, "frets 7 to 3 are the wrong way round"),
        ({"frets": (-1, 3)}, "no fret -1"),
        ({"frets": (30, 40)}, "no fret 30"),
    ],
)
def test_limits_that_make_no_sense(limits: dict[str, tuple[int, ...]], words: str) -> None:
    """Strings and frets that do not exist are errors, in every search."""
    with pytest.raises(InstrumentError, match=words):
        fingerings(GUITAR, make_hand(), [60], **limits)  # type: ignore[arg-type]


def test_an_empty_set_of_pitches() -> None:
    """Nothing to play is an error, not an empty answer."""
    with pytest.raises(InstrumentError, match="set of pitches is empty"):
        fingerings(GUITAR, make_hand(), [])
