"""From messages to notes: what begins, what ends, and that it always comes out well formed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup, pickup_names

SINGLE, STRINGS = make_pickup("single"), make_pickup("per-string")


def _run(name: str, *rows: tuple[int, ...]) -> list[NoteEvent]:
    tracker = NoteTracker(make_pickup(name))
    return [event for at, data in enumerate(rows) for event in tracker.feed(Message(float(at), data))]


def test_a_note_begins_and_ends_on_its_string() -> None:
    """Channel 3 is string 3 in the plain profile."""
    assert _run("per-string", (0x92, 55, 80), (0x82, 55, 0)) == [NoteOn(0.0, 55, 80, 3), NoteOff(1.0, 55, 3)]


def test_velocity_0_ends_a_note() -> None:
    """MIDI 1.0: a note-on with velocity 0 is a note-off."""
    assert _run("single", (0x90, 55, 80), (0x90, 55, 0)) == [NoteOn(0.0, 55, 80), NoteOff(1.0, 55)]


def test_a_string_sounds_one_note() -> None:
    """A new note on a channel of one string ends the old one; the late note-off of the old one says nothing."""
    assert _run("per-string", (0x90, 64, 80), (0x90, 66, 70), (0x80, 64, 0), (0x80, 66, 0)) == [
        NoteOn(0.0, 64, 80, 1),
        NoteOff(1.0, 64, 1),
        NoteOn(1.0, 66, 70, 1),
        NoteOff(3.0, 66, 1),
    ]


def test_a_shared_channel_sounds_many_notes() -> None:
    """On one channel a new note ends no other."""
    assert _run("single", (0x90, 64, 80), (0x90, 66, 70), (0x80, 64, 0)) == [
        NoteOn(0.0, 64, 80),
        NoteOn(1.0, 66, 70),
        NoteOff(2.0, 64),
    ]


def test_the_same_pitch_on_two_channels_ends_with_the_last() -> None:
    """A unison on two strings whose pickup is read as one: the first note-off leaves the other string ringing."""
    assert _run("single", (0x90, 64, 80), (0x91, 64, 70), (0x80, 64, 0), (0x81, 64, 0)) == [
        NoteOn(0.0, 64, 80),
        NoteOff(1.0, 64),
        NoteOn(1.0, 64, 70),
        NoteOff(3.0, 64),
    ]


def test_no_note_rings_for_ever() -> None:
    """Two note-ons and one note-off leave silence."""
    assert _run("single", (0x90, 64, 80), (0x90, 64, 70), (0x80, 64, 0))[-1] == NoteOff(2.0, 64)


@pytest.mark.parametrize("controller", [120, 123, 124, 125, 126, 127])
def test_silencing_controllers_end_the_notes_of_their_channel(controller: int) -> None:
    """All sound off, all notes off and the mode changes; other channels ring on."""
    heard = _run("per-string", (0x90, 64, 80), (0x91, 59, 80), (0xB0, controller, 0))
    assert heard[2:] == [NoteOff(2.0, 64, 1)]
    heard = _run("single", (0x90, 64, 80), (0x90, 59, 80), (0xB1, controller, 0), (0xB0, controller, 0))
    assert heard[2:] == [NoteOff(3.0, 59), NoteOff(3.0, 64)]


def test_the_pedal_changes_nothing() -> None:
    """A damped string is damped, whatever a synthesizer sustains."""
    plain = _run("single", (0x90, 64, 80), (0xD0, 0), (0x80, 64, 0))
    assert _run("single", (0x90, 64, 80), (0xB0, 64, 127), (0x80, 64, 0)) == plain


@pytest.mark.parametrize(
    "data",
    [(0xE0, 0, 64), (0xB0, 7, 100), (0xB0, 121, 0), (0xC0, 5), (0xD0, 5), (0xA0, 64, 9), (0xF0, 1, 0xF7), (0xFE,), ()],
)
def test_what_is_no_note_says_nothing(data: tuple[int, ...]) -> None:
    """Bends, controllers, programs, pressure, system messages, nothing at all."""
    assert _run("single", (0x90, 64, 80), data) == [NoteOn(0.0, 64, 80)]


@pytest.mark.parametrize("data", [(0x90,), (0x90, 64), (0x80, 64), (0x90, 200, 5), (0x90, 64, 128)])
def test_broken_messages_are_left_out(data: tuple[int, ...]) -> None:
    """Too short, or with a status byte where data should be."""
    assert _run("single", data) == []


def test_a_foreign_channel_has_no_string() -> None:
    """The pickup's own strings are not touched by it."""
    assert _run("per-string", (0x90, 64, 80), (0x99, 64, 70), (0x89, 64, 0)) == [
        NoteOn(0.0, 64, 80, 1),
        NoteOn(1.0, 64, 70),
        NoteOff(2.0, 64),
    ]


def test_notes_below_the_floor_are_not_heard() -> None:
    """The floor is the profile's; a note-off is never too soft."""
    tracker = NoteTracker(replace(SINGLE, velocity_floor=20))
    fed = [tracker.feed(Message(0.0, data)) for data in [(0x90, 60, 19), (0x90, 61, 20), (0x80, 61, 1)]]
    assert [len(events) for events in fed] == [0, 1, 1]


_DATA = st.one_of(
    st.tuples(st.integers(0x80, 0x9F), st.integers(58, 62), st.integers(0, 127)),
    st.tuples(st.integers(0xB0, 0xBF), st.sampled_from([7, 64, 120, 123]), st.integers(0, 127)),
    st.lists(st.integers(0, 255), max_size=4).map(tuple),
)


@given(st.sampled_from(pickup_names()), st.lists(_DATA, max_size=80))
def test_what_comes_out_is_always_well_formed(name: str, rows: list[tuple[int, ...]]) -> None:
    """Per string, or pitch without a string: on, off, on, off; every off has the pitch of its on."""
    sounding: dict[tuple[int | None, int], NoteOn] = {}
    for event in _run(name, *rows):
        place = (event.string, 0 if event.string else event.pitch)
        if isinstance(event, NoteOn):
            assert place not in sounding
            assert event.velocity > 0
            sounding[place] = event
        else:
            assert sounding.pop(place).pitch == event.pitch


@given(st.sampled_from(pickup_names()), st.lists(_DATA, max_size=60))
def test_all_notes_off_on_every_channel_leaves_silence(name: str, rows: list[tuple[int, ...]]) -> None:
    """Nothing hangs after it, whatever came before."""
    events = _run(name, *rows, *((0xB0 | channel, 123, 0) for channel in range(16)))
    ons = sum(isinstance(event, NoteOn) for event in events)
    assert len(events) == 2 * ons
