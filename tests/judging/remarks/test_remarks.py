"""Remarks about voice leading: what is remarked, what is not, and that none of it is ever a fault."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.remarks.remarks import placing, remarks


def codes(before: tuple[int, ...], after: tuple[int, ...]) -> list[tuple[str, tuple[int, int]]]:
    return [(remark.code, remark.voices) for remark in remarks(before, after)]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        pytest.param((48, 55), (50, 57), [("parallel_fifths", (1, 2))], id="fifths up a tone"),
        pytest.param((48, 67), (50, 69), [("parallel_fifths", (1, 2))], id="twelfths are fifths"),
        pytest.param((48, 60), (50, 62), [("parallel_octaves", (1, 2))], id="octaves"),
        pytest.param((60, 60), (62, 62), [("parallel_octaves", (1, 2))], id="unisons are octaves"),
        pytest.param((60, 67), (55, 74), [("contrary_fifths", (1, 2))], id="fifth to twelfth, apart"),
        pytest.param((48, 60), (43, 67), [("contrary_octaves", (1, 2))], id="octave to two octaves, apart"),
        pytest.param((48, 55), (48, 55), [], id="a fifth that is held"),
        pytest.param((48, 55), (50, 58), [], id="fifth to minor sixth"),
        pytest.param((48, 54), (50, 57), [], id="tritone to fifth"),
        pytest.param((55, 64), (60, 72), [("hidden_octave", (1, 2))], id="up into an octave by leap"),
        pytest.param((43, 71), (48, 72), [], id="up into an octave, the top steps"),
        pytest.param((60, 57), (62, 59), [("crossing", (1, 2))], id="the lower voice above"),
        pytest.param((43, 50, 59), (43, 50, 64), [("spacing", (2, 3))], id="upper voices far apart"),
        pytest.param((43, 64, 67), (41, 65, 69), [], id="the lowest voice may be far below"),
    ],
)
def test_what_is_remarked(
    before: tuple[int, ...], after: tuple[int, ...], expected: list[tuple[str, tuple[int, int]]]
) -> None:
    """One rule each, by the definitions in the module's text."""
    assert codes(before, after) == expected


def test_unequal_sizes_are_only_looked_at_by_themselves() -> None:
    """Who went where is unknown, so only spacing and crossing of the second chord are remarked."""
    assert codes((48, 55, 64), (50, 57, 62, 77)) == [("spacing", (3, 4))]
    assert codes((48, 55), ()) == []


def test_words_and_json() -> None:
    """A remark says which voices, counted from the lowest."""
    (remark,) = remarks((48, 55), (50, 57))
    assert remark.as_json() == {
        "code": "parallel_fifths",
        "text": "parallel fifths between voices 1 and 2",
        "voices": [1, 2],
    }


voices = st.lists(st.integers(36, 84), min_size=2, max_size=5)


@given(voices, st.data(), st.integers(-12, 12))
def test_transposing_changes_no_remark(before: list[int], data: st.DataObject, shift: int) -> None:
    """Both chords in another key: the same remarks."""
    after = data.draw(st.lists(st.integers(36, 84), min_size=len(before), max_size=len(before)))
    moved = [[note + shift for note in chord] for chord in (before, after)]
    assert remarks(before, after) == remarks(*moved)


@given(voices)
def test_standing_still_is_no_progression(chord: list[int]) -> None:
    """A chord repeated can only be remarked for its own placing."""
    assert remarks(chord, chord) == placing(chord)


@given(voices)
def test_sorted_notes_never_cross(chord: list[int]) -> None:
    """Low to high there is nothing to cross."""
    assert not [remark for remark in placing(sorted(chord)) if remark.code == "crossing"]
