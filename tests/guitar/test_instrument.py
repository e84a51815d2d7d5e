"""The instrument: strings, frets and lengths."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import InstrumentError
from listener.guitar.instrument import Instrument, make_instrument, tuning_list
from listener.music.pitch import parse_pitch


def test_standard_tuning() -> None:
    """Six strings, string 1 the highest, 40 to 86 on 22 frets."""
    guitar = make_instrument()
    assert guitar.tuning_names == ("E2", "A2", "D3", "G3", "B3", "E4")
    assert [guitar.pitch(string, 0) for string in (6, 5, 4, 3, 2, 1)] == [40, 45, 50, 55, 59, 64]
    assert guitar.range == (40, 86)
    assert guitar.highest_fret == 22


@pytest.mark.parametrize("name", tuning_list())
def test_every_tuning_of_the_table_can_be_strung(name: str) -> None:
    """Each row reads as pitches, and its name is kept."""
    made = make_instrument(name)
    assert made.name == name
    assert made.string_count == len(made.tuning_names) >= 4


def test_own_tuning() -> None:
    """A list of strings from the lowest up is a tuning too."""
    made = make_instrument("D2 A2 D3 G3 A3 D4")
    assert made.open_midi == make_instrument("dadgad").open_midi == (62, 57, 55, 50, 45, 38)


@given(capo=st.integers(0, 12), string=st.integers(1, 6), fret=st.integers(0, 9))
def test_a_capo_moves_the_nut(capo: int, string: int, fret: int) -> None:
    """Fret f above a capo at k sounds, and lies, where fret f + k does on the open neck."""
    guitar, clamped = make_instrument(), make_instrument(capo=capo)
    assert clamped.pitch(string, fret) == guitar.pitch(string, fret + capo)
    assert clamped.fret_mm(fret) == guitar.fret_mm(fret + capo)
    assert clamped.highest_fret == 22 - capo
    assert clamped.tuning_names == guitar.tuning_names


@given(string=st.integers(1, 6), fret=st.integers(0, 22))
def test_left_handed_sounds_the_same(string: int, fret: int) -> None:
    """A mirrored neck changes no pitch and no length."""
    right, left = make_instrument(), make_instrument(left_handed=True)
    assert left.pitch(string, fret) == right.pitch(string, fret)
    assert left.fret_mm(fret) == right.fret_mm(fret)


@given(scale=st.floats(300, 900), fret=st.integers(1, 22))
def test_a_finger_presses_between_its_frets(scale: float, fret: int) -> None:
    """The fingertip lies in its own fret space, nearer the wire that it presses against."""
    guitar = make_instrument(scale_mm=scale)
    below, spot, wire = guitar.fret_mm(fret - 1), guitar.finger_mm(fret), guitar.fret_mm(fret)
    assert below < spot < wire
    assert wire - spot < spot - below


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"tuning": "banjo-ish"}, "there is no tuning 'banjo-ish'; name one of standard"),
        ({"tuning": ""}, "there is no tuning ''"),
        ({"tuning": "E2 A2 H3"}, "'H3' is not a pitch"),
        ({"tuning": "E8 G8"}, "leaves MIDI's range"),
        ({"tuning": "C4 A9"}, "outside MIDI's range"),
        ({"tuning": " ".join(["E2"] * 13)}, "1 to 12 strings, not 13"),
        ({"fret_count": 0}, "a neck has 1 to 36 frets, not 0"),
        ({"fret_count": 99}, "99 frets"),
        ({"capo": 22}, "capo at fret 22 leaves nothing to play"),
        ({"capo": -1}, "capo at fret -1"),
        ({"scale_mm": 0.0}, "scale length of 0 mm"),
        ({"scale_mm": float("nan")}, "scale length of nan mm"),
    ],
)
def test_what_cannot_be(arguments: dict[str, object], words: str) -> None:
    """Each impossible instrument is one clear line."""
    with pytest.raises(InstrumentError, match=words) as caught:
        make_instrument(**arguments)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


def test_no_strings() -> None:
    """An instrument without strings cannot be."""
    with pytest.raises(InstrumentError, match="not 0"):
        Instrument("none", ())


@pytest.mark.parametrize(("string", "fret"), [(0, 1), (7, 1), (1, 23), (1, -1)])
def test_places_that_do_not_exist(string: int, fret: int) -> None:
    """A string or fret beyond the instrument is named in the error."""
    with pytest.raises(InstrumentError, match=f"no (string {string}|fret {fret})"):
        make_instrument().pitch(string, fret)


def test_open_strings_need_no_finger() -> None:
    """There is no spot to press at fret 0."""
    with pytest.raises(InstrumentError, match="open string"):
        make_instrument().finger_mm(0)


def test_one_string_is_enough() -> None:
    """A single string with a single fret is an instrument."""
    assert Instrument("monochord", (parse_pitch("A2"),), fret_count=1).range == (45, 46)
