"""Pickup profiles: channels to strings and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.hearing.pickup import calibrated, make_pickup, pickup_names


@pytest.mark.parametrize(
    ("name", "channel", "string"),
    [
        ("single", 1, None),
        ("single", 16, None),
        ("per-string", 1, 1),
        ("per-string", 6, 6),
        ("per-string", 7, None),
        ("per-string low first", 1, 6),
        ("per-string low first", 6, 1),
        ("per-string from 11", 11, 1),
        ("per-string from 11", 1, None),
        ("per-string from 3", 3, 1),
        ("per-string from 3", 2, None),
        ("per-string low first from 11", 16, 1),
        ("per-string low first from 11", 11, 6),
        ("per-string strings 7", 7, 7),
        ("per-string low first strings 7", 1, 7),
        ("zone", 2, None),
        ("zone per string", 2, 1),
        ("zone per string", 1, None),
        ("zone per string low first", 2, 6),
        ("zone upper per string", 15, 1),
        ("zone upper per string", 10, 6),
        ("zone upper per string strings 7", 9, 7),
        ("zone upper per string low first", 15, 6),
    ],
)
def test_a_channel_says_its_string_or_nothing(name: str, channel: int, string: int | None) -> None:
    """Strings count from the highest, channels from 1; foreign channels have no string."""
    assert make_pickup(name).string_on(channel) == string


@pytest.mark.parametrize("name", pickup_names())
def test_every_profile_is_sound(name: str) -> None:
    """Channels are different MIDI channels, and a string's channel carries that string."""
    pickup = make_pickup(name)
    assert len(set(pickup.channels)) == len(pickup.channels) >= 1
    assert all(1 <= channel <= 16 for channel in pickup.channels)
    assert pickup.about
    assert pickup.velocity_floor >= 1
    assert pickup.delay_periods >= 0
    assert pickup.bend_range_semitones >= 1
    assert pickup.manager not in pickup.channels
    if pickup.tells_strings:
        assert [pickup.string_on(pickup.channel_of(string)) for string in range(1, 7)] == list(range(1, 7))


def test_a_profile_is_found_however_it_is_typed() -> None:
    """Upper case and spaces do not matter."""
    assert make_pickup(" Per-String  LOW first ") == make_pickup("per-string low first")


def test_an_unknown_profile_lists_those_there_are() -> None:
    """One line, every name in it."""
    with pytest.raises(SourceError, match=r"no pickup profile 'hexa'; there are 'single', 'per-string', .*") as caught:
        make_pickup("hexa")
    assert all(f"'{name}'" in str(caught.value) for name in pickup_names())


def test_a_seventh_string_needs_another_profile() -> None:
    """Said in one line with what to try; a single channel takes any string."""
    with pytest.raises(SourceError, match="none for string 7; try the profile 'single'"):
        make_pickup("per-string").channel_of(7)
    assert make_pickup("single").channel_of(7) == 1


def test_a_name_may_say_what_differs() -> None:
    """Bend range, measured delay and lag; order and case do not matter, and the name written back means the same."""
    pickup = make_pickup("Per-String LOW first  lag -3.5 from 4 delay 2.25 bend 12")
    assert pickup.name == "per-string low first from 4 bend 12 delay 2.25 lag -3.5"
    assert (pickup.channels[0], pickup.channels[-1]) == (9, 4)
    assert (pickup.bend_range_semitones, pickup.delay_periods, pickup.lag_ms) == (12, 2.25, -3.5)
    assert make_pickup(pickup.name) == pickup
    assert pickup.delay_s(100.0) == pytest.approx(0.0225 - 0.0035)


@given(
    st.sampled_from(pickup_names()),
    st.none() | st.floats(0, 20),
    st.none() | st.floats(-500, 500),
)
def test_what_was_measured_is_in_the_name(name: str, periods: float | None, lag_ms: float | None) -> None:
    """A take keeps the name alone; measuring again replaces the numbers."""
    pickup = calibrated(
        calibrated(make_pickup(name), delay_periods=9.0, lag_ms=9.0), delay_periods=periods, lag_ms=lag_ms
    )
    assert make_pickup(pickup.name) == pickup
    assert pickup.delay_periods == pytest.approx(9.0 if periods is None else periods, abs=0.00501)
    assert pickup.lag_ms == pytest.approx(9.0 if lag_ms is None else lag_ms, abs=0.0501)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("per-string from 12", "MIDI has channels 1 to 16, these are 12 to 17"),
        ("per-string from 0", "'from' takes a whole number from 1 to 16, not '0'"),
        ("per-string from 1.5", "'from' takes a whole number"),
        ("per-string from x", "'from' takes a whole number"),
        ("per-string from 3 from 4", "says 'from' twice"),
        ("per-string strings 17", "'strings' takes a whole number"),
        ("per-string from 11 strings 7", "these are 11 to 17"),
        ("single strings 7", "it cannot tell strings apart"),
        ("zone from 3", "begin beside its manager"),
        ("zone per string strings 16", "these are 2 to 17"),
        ("single bend -1", "'bend' takes a number from 0 to 96, not '-1'"),
        ("single delay nan", "'delay' takes a number from 0 to 20, not 'nan'"),
        ("single lag", "there is no pickup profile 'single lag'"),
        ("from 3", "there is no pickup profile 'from 3'"),
        ("", "there is no pickup profile ''"),
    ],
)
def test_a_name_that_cannot_be_is_one_clear_line(name: str, said: str) -> None:
    """What is wrong and what would do."""
    with pytest.raises(SourceError, match=said) as caught:
        make_pickup(name)
    assert "\n" not in str(caught.value)
