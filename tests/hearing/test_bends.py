"""Bends: what a value means, what a range is, and when a bent note has become another one."""

from __future__ import annotations

from collections.abc import Iterable
from math import pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.bends import ATTACK_S, ATTACK_SETTLE_S, SETTLE_S, Parameters, cents
from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup


def bend(semitones: float, range_semitones: float = 2.0, channel: int = 1) -> tuple[int, int, int]:
    value = min(16383, max(0, round(8192 + semitones / range_semitones * 8192)))
    return (0xE0 | channel - 1, value & 127, value >> 7)


def heard(
    rows: Iterable[tuple[float, tuple[int, ...]]], until_s: float = 20.0, name: str = "per-string"
) -> list[NoteEvent]:
    tracker = NoteTracker(make_pickup(name))
    return [event for time_s, data in rows for event in tracker.feed(Message(time_s, data))] + tracker.tick(until_s)


def pitches(events: Iterable[NoteEvent]) -> list[int]:
    return [event.pitch for event in events if isinstance(event, NoteOn)]


@given(st.integers(0, 16382), st.floats(0.5, 96))
def test_cents_rise_with_the_value(value: int, range_semitones: float) -> None:
    """A law: strictly rising, and the other way round below the centre."""
    assert cents(value, range_semitones) < cents(value + 1, range_semitones)
    if value:
        assert cents(16384 - value, range_semitones) == -cents(value, range_semitones)


PLUCK = (0.0, (0x90, 64, 80))


@given(
    st.floats(4.0, 7.0),
    st.floats(0.0, 1.9),
    st.booleans(),
    st.floats(0, 2 * pi),
)
def test_vibrato_is_one_note(turns_per_s: float, width: float, upwards: bool, phase: float) -> None:
    """Up to nearly two whole tones wide, around the note or only upwards as a finger pushes it: one note throughout."""
    rows = [PLUCK]
    for step in range(1, 300):
        time_s = ATTACK_S + step * 0.01
        wave = sin(2 * pi * turns_per_s * time_s + phase)
        semitones = width * (1 + wave) / 2 if upwards else width / 2 * wave
        rows.append((time_s, bend(semitones)))
    rows.append((ATTACK_S + 3.0, bend(0.0)))
    assert pitches(heard(rows)) == [64]


@pytest.mark.parametrize("fret", [-2, -1, 1, 2])
def test_a_slide_that_settles_is_a_new_note(fret: int) -> None:
    """The old note ends and the new one begins a settling time after the pitch has arrived; nothing else is needed."""
    rows = [PLUCK, *((1.0 + 0.01 * step, bend(fret * step / 10)) for step in range(11))]
    arrived_s = next(
        time_s for time_s, data in rows[1:] if abs((data[1] | data[2] << 7) - 8192) / 4096 >= abs(fret) - 0.35
    )
    off, on = heard(rows)[1:]
    assert (off, on) == (NoteOff(on.time_s, 64, 1), NoteOn(on.time_s, 64 + fret, 80, 1, arrived_s=on.arrived_s))
    assert on.arrived_s == pytest.approx(arrived_s, abs=1e-4)
    assert on.time_s == pytest.approx(arrived_s + SETTLE_S, abs=1e-4)


def test_a_slide_there_and_back_is_two_changes_and_a_brush_is_none() -> None:
    """What stays is a note, what only passes is not."""
    assert pitches(heard([PLUCK, (1.0, bend(1.0)), (2.0, bend(0.0))])) == [64, 65, 64]
    assert pitches(heard([PLUCK, (1.0, bend(1.0)), (1.0 + SETTLE_S - 0.001, bend(0.0))])) == [64]


def test_a_quarter_tone_is_the_note_that_it_came_from() -> None:
    """Hysteresis: between two semitones the last name stays, from either side."""
    assert pitches(heard([PLUCK, (1.0, bend(0.5))])) == [64]
    assert pitches(heard([PLUCK, (1.0, bend(0.6))])) == [64]
    assert pitches(heard([PLUCK, (1.0, bend(1.0)), (2.0, bend(0.5)), (3.0, bend(0.4))])) == [64, 65]


def test_a_note_off_ends_the_note_at_its_new_pitch() -> None:
    """The off names the pitch of the on that it ends, though the message names the string's first note."""
    events = heard([PLUCK, (1.0, bend(1.0)), (2.0, (0x80, 64, 0))])
    assert events[-1] == NoteOff(2.0, 65, 1)


def test_a_bend_of_a_hundred_cents_is_the_next_note() -> None:
    """Definition: note n bent by exactly 100 cents is note n + 1, whenever it is plucked."""
    assert pitches(heard([(0.0, bend(1.0)), (1.0, (0x90, 64, 80))])) == [65]
    assert pitches(heard([(0.0, bend(0.11)), (1.0, (0x90, 64, 80))])) == [64]


def test_a_bend_cleared_just_after_the_pluck_is_put_right_at_once() -> None:
    """Some senders clear the old bend after the new note-on: known within tens of milliseconds."""
    rows = [PLUCK, (1.0, bend(1.0)), (2.0, (0x80, 64, 0)), (3.0, (0x90, 62, 80)), (3.002, bend(0.0))]
    off, on = heard(rows)[-2:]
    assert (off.pitch, on.pitch) == (63, 62)
    assert on.time_s == pytest.approx(3.002 + ATTACK_SETTLE_S, abs=1e-4)


def test_on_one_channel_for_all_every_note_moves() -> None:
    """MIDI 1.0: a bend is the whole channel's."""
    events = heard([(0.0, (0x90, 60, 80)), (0.1, (0x90, 61, 70)), (1.0, bend(1.0))], name="single")
    assert pitches(events) == [60, 61, 61, 62]
    assert sorted(event.pitch for event in events[2:] if isinstance(event, NoteOff)) == [60, 61]


def test_a_bend_before_the_first_note_and_bends_of_other_channels_move_nothing() -> None:
    """Silence has no pitch, and strings bend by themselves."""
    assert heard([(0.0, bend(1.0))]) == []
    assert pitches(heard([PLUCK, (1.0, bend(1.0, channel=2))])) == [64]


NOTE, RESET = (0x90, 60, 80), (0xB0, 121, 0)


def test_a_reset_centres_the_bend() -> None:
    """Controller 121 (RP-015, from memory): of its own channel; a note that sounds goes back when that has settled."""
    assert pitches(heard([(0.0, bend(1)), (0.1, RESET), (0.2, NOTE)])) == [60]
    assert pitches(heard([(0.0, bend(1)), (0.1, (0xB1, 121, 0)), (0.2, NOTE)])) == [61]
    back = heard([(0.0, bend(1)), (0.1, NOTE), (1.0, RESET)])
    assert back[1:] == [NoteOff(1.165, 61, 1), NoteOn(1.165, 60, 80, 1, arrived_s=1.0)]


def test_a_managers_reset_centres_its_bend_for_all_members() -> None:
    """Not the members' own."""
    note, member = (0x91, 60, 80), bend(5, 48, channel=2)
    assert pitches(heard([(0.0, bend(1)), (0.1, note)], name="zone")) == [61]
    assert pitches(heard([(0.0, bend(1)), (0.1, RESET), (0.2, note)], name="zone")) == [60]
    assert pitches(heard([(0.0, bend(1)), (0.0, member), (0.1, RESET), (0.2, note)], name="zone")) == [65]


def test_after_a_reset_no_parameter_is_chosen() -> None:
    """Data entry means nothing then."""
    chosen = [(0.0, (0xB0, 101, 0)), (0.0, (0xB0, 100, 0))]
    wider = [(0.2, (0xB0, 6, 12)), (0.3, bend(1)), (0.4, NOTE)]
    assert pitches(heard([*chosen, *wider])) == [66]
    assert pitches(heard([*chosen, (0.1, RESET), *wider])) == [61]


def test_pitches_stay_within_midis_numbers() -> None:
    """Bent over the edge, a note is at the edge."""
    assert pitches(heard([(0.0, bend(2.0)), (1.0, (0x90, 127, 80))])) == [127]
    assert pitches(heard([(0.0, bend(-2.0)), (1.0, (0x90, 0, 80))])) == [0]


RPN_0 = [(101, 0), (100, 0)]


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([*RPN_0, (6, 12)], [(0, 12.0)]),
        ([*RPN_0, (6, 12), (38, 50)], [(0, 12.0), (0, 12.5)]),
        ([*RPN_0, (38, 50)], [(0, 0.5)]),
        ([*reversed(RPN_0), (6, 24)], [(0, 24.0)]),
        ([*RPN_0, (6, 12), (101, 127), (100, 127), (6, 3)], [(0, 12.0)]),
        ([*RPN_0, (99, 0), (98, 0), (6, 3)], []),
        ([(101, 0), (100, 1), (6, 3)], []),
        ([(101, 0), (100, 6), (6, 5)], [(6, 5.0)]),
        ([(6, 12)], []),
    ],
)  # fmt: skip
def test_registered_parameters(rows: list[tuple[int, int]], found: list[tuple[int, float]]) -> None:
    """RPN 0 takes semitones, then cents; null, another parameter and an NRPN leave it alone."""
    parameters = Parameters()
    results = [parameters.feed(controller, value) for controller, value in rows]
    assert [result for result in results if result is not None] == found


def test_the_range_that_is_sent_holds_for_its_channel_alone() -> None:
    """Range 12: the bend that was a semitone is now half an octave."""
    range_12 = [(0.0, (0xB0, 101, 0)), (0.0, (0xB0, 100, 0)), (0.0, (0xB0, 6, 12))]
    rows = [
        *range_12,
        (0.1, bend(6.0, 12.0)),
        (0.1, bend(1.0, channel=2)),
        (1.0, (0x90, 60, 80)),
        (1.0, (0x91, 50, 80)),
    ]
    assert pitches(heard(rows)) == [66, 51]


def test_a_range_changed_under_a_held_bend_moves_the_note() -> None:
    """From then on the same bend means more."""
    rows = [(0.0, bend(1.0)), (1.0, (0x90, 60, 80))]
    rows += [(2.0, (0xB0, 101, 0)), (2.0, (0xB0, 100, 0)), (2.0, (0xB0, 6, 4))]
    assert pitches(heard(rows)) == [61, 62]
