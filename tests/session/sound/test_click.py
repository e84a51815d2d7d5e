"""The click: beats, accents, count-in."""

from __future__ import annotations

import pytest

from listener.session.sound.click import ACCENT_KEY, BEAT_KEY, ClickTrack, groups_of


def track(**changes: object) -> ClickTrack:
    settings = {"anchor_s": 4.0, "tempo": 60.0, "meter": (4, 4), "first_beat": 0.0, "count_in": 4, "end_beat": 8.0}
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
    beats = track(meter=(3, 4), first_beat=3.0, count_in=3, end_beat=9.0).due(100.0)
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


#: Where each bar's accents fall, the first beat of the bar and those of groups in it (common practice).
@pytest.mark.parametrize(
    ("meter", "beats"),
    [
        ((2, 4), "A."),
        ((3, 4), "A.."),
        ((4, 4), "A..."),
        ((5, 4), "A..g."),
        ((6, 8), "A..g.."),
        ((7, 8), "A.g.g.."),
        ((9, 8), "A..g..g.."),
        ((12, 8), "A..g..g..g.."),
        ((3, 8), "A.."),
        ((6, 4), "A....."),
        ((5, 8), "A..g."),
        ((8, 8), "A..g..g."),
        ((1, 4), "A"),
    ],
)
def test_accents_of_each_meter(meter: tuple[int, int], beats: str) -> None:
    """Count-in and two bars: the first beat of each bar, and more softly the first of each group within it."""
    count = meter[0]
    found = track(meter=meter, anchor_s=100.0, count_in=count, end_beat=2.0 * count).due(1000.0)
    assert "".join("A" if beat.accent else "g" if beat.group else "." for beat in found) == 3 * beats
    velocities = {(beat.accent, beat.group): beat.messages()[0][2] for beat in found}
    assert sorted(velocities, key=lambda kind: -velocities[kind]) == sorted(velocities, reverse=True)
    assert {beat.messages()[0][1] for beat in found if beat.accent or beat.group} == {ACCENT_KEY}


@pytest.mark.parametrize("meter", [(beats, unit) for beats in range(1, 17) for unit in (2, 4, 8, 16)])
def test_groups_fill_the_bar(meter: tuple[int, int]) -> None:
    """Every meter that a drill may have: its groups add up to the bar."""
    assert sum(groups_of(meter)) == meter[0]


def test_places_of_a_pattern_sound_softer_between_the_beats() -> None:
    """Each once, in order of time, with the low sound; the beats themselves are as without."""
    plain = track().due(100.0)
    found = track(between=(0.5, 2.75, 4.5)).due(100.0)
    assert [beat for beat in found if not beat.between] == plain
    assert [(beat.time_s, beat.bar, beat.beat) for beat in found if beat.between] == [
        (4.5, 1, 1), (6.75, 1, 3), (8.5, 2, 1),
    ]  # fmt: skip
    assert [beat.time_s for beat in found] == sorted(beat.time_s for beat in found)
    loudness = {beat.between: beat.messages()[0][2] for beat in found if not beat.accent}
    assert loudness[True] < loudness[False]
    assert {beat.messages()[0][1] for beat in found if beat.between} == {BEAT_KEY}


def test_each_place_between_is_given_once() -> None:
    """Asking often gives the same as asking once, and the next one is known."""
    often, once = track(between=(0.5, 1.5, 7.5)), track(between=(0.5, 1.5, 7.5))
    found = []
    for n in range(1300):
        assert often.next_s is None or often.next_s > (n - 1) / 100
        found += often.due(n / 100)
    assert found == once.due(13.0)
    assert len(found) == 15
    assert often.next_s is None


def test_places_before_the_beginning_and_after_the_end_are_silent() -> None:
    """A take that begins later, or ends sooner, sounds its own part only."""
    found = track(first_beat=4.0, end_beat=8.0, between=(0.5, 3.5, 4.5, 7.5, 8.5)).due(100.0)
    assert [beat.time_s for beat in found if beat.between] == [4.5, 7.5]


def test_the_beat_that_sounds_is_a_beat() -> None:
    """What is shown counts beats, whatever sounds between them."""
    click = track(between=(0.5,))
    assert (click.at(4.6).beat, click.at(4.6).between) == (1, False)
    assert click.beats_at(3.9) is None
    assert click.beats_at(4.5) == 0.5
