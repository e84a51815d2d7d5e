"""From messages to notes: what begins, what ends, and that it always comes out well formed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn, on_grid
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


DOWN, UP = (0xB0, 64, 127), (0xB0, 64, 0)


def test_the_pedal_holds_notes_until_it_comes_up() -> None:
    """MIDI 1.0, controller 64: from 64 on it is down; who is still held by a finger sounds on after it."""
    assert _run("single", (0x90, 64, 80), (0x90, 60, 80), DOWN, (0x80, 64, 0), (0xB0, 64, 64), (0xB0, 64, 63)) == [
        NoteOn(0.0, 64, 80),
        NoteOn(1.0, 60, 80),
        NoteOff(5.0, 64),
    ]


def test_a_string_under_the_pedal_still_sounds_one_note() -> None:
    """A new note on it ends the held one, and the pedal coming up ends it once."""
    assert _run("per-string", (0x90, 64, 80), DOWN, (0x80, 64, 0), (0x90, 66, 70), (0x80, 66, 0), UP) == [
        NoteOn(0.0, 64, 80, 1),
        NoteOff(3.0, 64, 1),
        NoteOn(3.0, 66, 70, 1),
        NoteOff(5.0, 66, 1),
    ]


def test_a_note_plucked_again_under_the_pedal_is_held_anew() -> None:
    """Off, on under the pedal; its note-off waits again."""
    assert _run("single", (0x90, 64, 80), DOWN, (0x80, 64, 0), (0x90, 64, 70), UP, (0x80, 64, 0))[1:] == [
        NoteOff(3.0, 64),
        NoteOn(3.0, 64, 70),
        NoteOff(5.0, 64),
    ]


@pytest.mark.parametrize("controller", [123, 124, 125, 126, 127])
def test_all_notes_off_leaves_what_the_pedal_holds(controller: int) -> None:
    """MIDI 1.0 implementation charts: notes may sound on while hold is down."""
    assert _run("single", (0x90, 64, 80), DOWN, (0xB0, controller, 0)) == [NoteOn(0.0, 64, 80)]
    assert _run("single", (0x90, 64, 80), DOWN, (0xB0, controller, 0), UP)[-1] == NoteOff(3.0, 64)


@pytest.mark.parametrize("controller", [120, 121])
def test_all_sound_off_and_reset_do_not_wait_for_the_pedal(controller: int) -> None:
    """All sound off ends everything; reset all controllers lets the pedal up."""
    assert _run("single", (0x90, 64, 80), DOWN, (0x80, 64, 0), (0xB0, controller, 0))[-1] == NoteOff(3.0, 64)


def test_the_pedal_is_its_channels_own() -> None:
    """Outside zones it holds no other channel."""
    assert _run("per-string", (0x91, 59, 80), DOWN, (0x81, 59, 0))[-1] == NoteOff(2.0, 59, 2)


def _zone(*rows: tuple[int, ...]) -> list[NoteEvent]:
    return _run("zone", *rows)


def test_a_zones_manager_holds_and_bends_all_members() -> None:
    """MPE 1.0: pedals and bends of the manager are for the whole zone; its range is 2, that of the members 48."""
    assert _zone((0x91, 60, 80), DOWN, (0x81, 60, 0)) == [NoteOn(0.0, 60, 80)]
    assert _zone((0xE0, 0, 96), (0x91, 60, 80)) == [NoteOn(1.0, 61, 80)]
    assert _zone((0xE1, 0, 96), (0x91, 60, 80)) == [NoteOn(1.0, 84, 80)]
    assert _zone((0xE0, 0, 96), (0xE1, 0, 96), (0x91, 60, 80)) == [NoteOn(2.0, 85, 80)]


def test_a_zone_may_be_opened_and_closed_by_the_sender() -> None:
    """MPE configuration message: RPN 6 on channel 1 or 16, so many members; 0 closes it."""
    opened = [(0xB0, 101, 0), (0xB0, 100, 6), (0xB0, 6, 6)]
    assert _run("single", *opened, (0xE1, 0, 96), (0x91, 60, 80)) == [NoteOn(4.0, 84, 80)]
    assert _run("single", *opened, (0xE7, 0, 96), (0x97, 60, 80)) == [NoteOn(4.0, 61, 80)]
    assert _run("single", *opened, (0xB0, 6, 0), (0xE1, 0, 96), (0x91, 60, 80)) == [NoteOn(5.0, 61, 80)]
    upper = [(0xBF, 101, 0), (0xBF, 100, 6), (0xBF, 6, 3)]
    for status, pitch in ((0xE, 84), (0xC, 84), (0xB, 61)):
        assert _run("single", *upper, (0xE0 | status, 0, 96), (0x90 | status, 60, 80))[-1] == NoteOn(4.0, pitch, 80)


LOWER = [(0xB0, 101, 0), (0xB0, 100, 6), (0xB0, 6, 6)]
#: Channel 7 is no member any more.
SHRUNK = [*LOWER, (0xB0, 6, 5)]


def test_a_channel_that_its_zone_has_lost_is_on_its_own() -> None:
    """The manager's bend, pedal and silence are not for it any more, and its own bend is that of the profile."""
    note, bent = (0x96, 60, 80), (0xE0, 0, 96)
    for rows, pitch in ((LOWER, 61), (SHRUNK, 60)):
        assert _run("single", *rows, bent, note)[0].pitch == pitch
    for rows, pitch in ((LOWER, 84), (SHRUNK, 61)):
        assert _run("single", *rows, (0xE6, 0, 96), note)[0].pitch == pitch
    for rows, ends in ((LOWER, 0), (SHRUNK, 1)):
        assert len(_run("single", *rows, note, DOWN, (0x86, 60, 0))) == 1 + ends
    for silence in (120, 123):
        for rows, ends in ((LOWER, 1), (SHRUNK, 0)):
            assert len(_run("single", *rows, note, (0xB0, silence, 0))) == 1 + ends


def test_a_zone_that_is_lost_is_lost_for_all() -> None:
    """The profile's own, closed by the sender; the manager is a channel like the others then."""
    closed = [(0xB0, 101, 0), (0xB0, 100, 6), (0xB0, 6, 0)]
    assert _zone(*closed, (0xE0, 0, 96), (0x91, 60, 80)) == [NoteOn(4.0, 60, 80)]
    assert _zone(*closed, (0xE0, 0, 96), (0x90, 60, 80)) == [NoteOn(4.0, 84, 80)]
    assert _zone(*closed, (0x91, 60, 80), DOWN, (0x81, 60, 0))[-1] == NoteOff(5.0, 60)


def test_a_members_bend_range_is_that_of_all_members() -> None:
    """RPN 0 on one member of a zone (MPE 1.0, from memory)."""
    assert _zone((0xB1, 101, 0), (0xB1, 100, 0), (0xB1, 6, 12), (0xE2, 0, 96), (0x92, 60, 80)) == [NoteOn(4.0, 66, 80)]


@pytest.mark.parametrize(
    "data",
    [
        (0xE0, 0, 64),
        (0xE0, 0, 0),
        (0xB0, 7, 100),
        (0xB0, 121, 0),
        (0xC0, 5),
        (0xD0, 5),
        (0xA0, 64, 9),
        (0xF0, 1, 0xF7),
        (0xFE,),
        (),
    ],
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
    st.tuples(st.integers(0xB0, 0xBF), st.sampled_from([6, 7, 64, 100, 101, 120, 121, 123]), st.integers(0, 127)),
    st.tuples(st.integers(0xE0, 0xEF), st.integers(0, 127), st.integers(0, 127)),
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
    """Nothing hangs after it once the pedals are up, whatever came before."""
    silence = [(0xB0 | channel, controller, 0) for controller in (123, 64) for channel in range(16)]
    events = _run(name, *rows, *silence)
    ons = sum(isinstance(event, NoteOn) for event in events)
    assert len(events) == 2 * ons


@given(
    st.sampled_from(pickup_names()),
    st.lists(st.tuples(st.floats(0, 0.2), _DATA), max_size=60),
    st.lists(st.floats(0, 6), max_size=10),
)
def test_how_often_time_is_told_changes_nothing(
    name: str, rows: list[tuple[float, tuple[int, ...]]], ticks: list[float]
) -> None:
    """The same notes at the same times, in order of time, with many ticks or none."""
    now_s, messages = 0.0, []
    for wait_s, data in rows:
        now_s += wait_s
        messages.append(Message(on_grid(now_s), data))
    end_s = on_grid(now_s + 1.0)
    with_ticks, without = NoteTracker(make_pickup(name)), NoteTracker(make_pickup(name))
    found: list[NoteEvent] = []
    moments: list[tuple[float, Message | None]] = [(m.time_s, m) for m in messages]
    moments += [(on_grid(min(tick_s, now_s)), None) for tick_s in ticks]
    for at_s, message in sorted(moments, key=lambda moment: moment[0]):
        found += with_ticks.tick(at_s)
        found += with_ticks.feed(message) if message is not None else []
    quiet = [event for message in messages for event in without.feed(message)]
    assert found + with_ticks.tick(end_s) == quiet + without.tick(end_s)
    assert [event.time_s for event in found] == sorted(event.time_s for event in found)
