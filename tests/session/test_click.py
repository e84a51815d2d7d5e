"""The click: beats, accents, count-in."""

from __future__ import annotations

import pytest

from listener.session.click import ACCENT_KEY, BEAT_KEY, ClickTrack


def track(**changes: float) -> ClickTrack:
    settings = {"anchor_s": 4.0, "tempo": 60.0, "beats_per_bar": 4, "first_beat": 0.0, "count_in": 4, "end_beat": 8.0}
    return ClickTrack(**{**settings, **changes})  # type: ignore[arg-type]


def test_a_bar_of_count_in_and_two_bars() -> None:
    """Twelve beats a second apart; accents on the first of each bar; the count-in counts 1 to 4."""
    beats = track().due(100.0)
    assert [beat.time_s for beat in beats] == [float(n) for n in range(12)]
    assert [beat.accent for beat in beats] == [True, False, False, False] * 3
    assert [(beat.bar, beat.beat) for beat in beats] == [
        *((0, n) for n in range(1, 5)), *((1, n) for n in range(1, 5)), *((2, n) for n in range(1, 5)),
    ]  # fmt: skip
    assert [beat.count_in for beat in beats] == [True] * 4 + [False] * 8


def test_each_beat_is_given_once() -> None:
    """Asking often gives the same beats as asking once."""
    often, once = track(), track()
    found = [beat for n in range(1300) for beat in often.due(n / 100)]
    assert found == once.due(13.0)
    assert often.next_s is None


def test_three_in_a_bar_from_the_second_bar_on() -> None:
    """A passage that begins in bar 2 of a 3/4 drill: the count-in has one bar and the accents fall right."""
    beats = track(beats_per_bar=3, first_beat=3.0, count_in=3, end_beat=9.0).due(100.0)
    assert [(beat.bar, beat.beat, beat.accent) for beat in beats] == [
        (0, 1, True), (0, 2, False), (0, 3, False),
        (2, 1, True), (2, 2, False), (2, 3, False), (3, 1, True), (3, 2, False), (3, 3, False),
    ]  # fmt: skip


def test_where_we_are() -> None:
    """The beat that sounds at a moment; before the count-in there is none to show."""
    click = track()
    assert click.at(-1.0).beat == 0
    assert (click.at(2.5).bar, click.at(2.5).beat) == (0, 3)
    assert (click.at(4.0).bar, click.at(4.0).beat) == (1, 1)
    assert (click.at(50.0).bar, click.at(50.0).beat) == (2, 4)


@pytest.mark.parametrize(("index", "key"), [(0, ACCENT_KEY), (1, BEAT_KEY)])
def test_it_sounds_on_the_percussion_channel(index: int, key: int) -> None:
    """Note-on and note-off on channel 10, the first beat with its own sound (General MIDI percussion)."""
    on, off = track().due(5.0)[index].messages()
    assert (on[0], on[1]) == (0x99, key)
    assert (off[0], off[1]) == (0x89, key)
