"""Pickup profiles: channels to strings and back."""

from __future__ import annotations

import pytest

from listener.errors import SourceError
from listener.hearing.pickup import make_pickup, pickup_names


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
