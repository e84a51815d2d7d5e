"""The whole chain from messages to strokes. Times in the examples are milliseconds, for reading."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import pytest
from by_hand import with_ticks
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.hearing.bends import SETTLE_S
from listener.hearing.cleaning import GHOST
from listener.hearing.ears import Ears, strokes_of
from listener.hearing.events import TICK_US, Message, Stroke, on_grid, ticks
from listener.hearing.pickup import make_pickup, pickup_names
from listener.music.pitch import frequency_hz

#: A pickup without delay, so that times can be seen.
PROMPT = make_pickup("per-string delay 0")
STRINGS = make_pickup("per-string")
#: Every profile, and delays of which some are negative.
NAMES = (*pickup_names(), "per-string delay 0", "per-string delay 3 lag -20")


def on(ms: float, pitch: int, string: int, velocity: int = 80) -> Message:
    """A note-on of the profile that has a channel for each string."""
    return Message(on_grid(ms / 1000), (0x8F + string, pitch, velocity))


def off(ms: float, pitch: int, string: int) -> Message:
    """A note-off."""
    return Message(on_grid(ms / 1000), (0x7F + string, pitch, 64))


def bend(ms: float, string: int, semitones: float) -> Message:
    """A bend in a range of two semitones."""
    value = min(16383, round(8192 + 8192 * semitones / 2))
    return Message(on_grid(ms / 1000), (0xDF + string, value & 127, value >> 7))


def heard(ears: Ears, *messages: Message) -> list[Stroke]:
    """Everything that these bring about."""
    return [stroke for message in messages for stroke in ears.feed(message)]


# When the strings were plucked -----------------------------------------------------------------------------------


@pytest.mark.parametrize("grow", [False, True])
@pytest.mark.parametrize("name", ["per-string", "per-string delay 1.5 lag 6", "per-string lag -4"])
def test_strokes_come_out_as_plucked(name: str, grow: bool) -> None:
    """Six strings plucked at one second arrive at six times, each as late as the profile says; all began together."""
    pickup = make_pickup(name)
    plucks = [(40, 6), (45, 5), (50, 4), (55, 3), (59, 2), (64, 1)]
    arrivals = [on(1000 + 1000 * pickup.delay_s(frequency_hz(pitch)), pitch, string) for pitch, string in plucks]
    ears = Ears(pickup, as_they_grow=grow)
    strokes = heard(ears, *sorted(arrivals)) + ears.flush()
    assert len(strokes) == (7 if grow else 1)
    assert all(note.time_s == pytest.approx(1.0, abs=3e-5) for stroke in strokes for note in stroke.struck)
    assert strokes[-1].struck_pitches == (40, 45, 50, 55, 59, 64)


def test_what_is_held_has_the_time_of_its_pluck_too() -> None:
    """It is the very note that was struck before; what has ended is not held."""
    first, second = strokes_of(
        [on(100, 40, 6), on(120, 50, 4), off(980, 50, 4), on(1000, 64, 1), off(1500, 40, 6), off(1600, 64, 1)], STRINGS
    )
    assert second.held == tuple(note for note in first.struck if note.pitch == 40)


def test_the_first_note_to_arrive_need_not_be_the_first_that_was_plucked() -> None:
    """The low E, plucked 10 ms before the high one, arrives 8 ms after it."""
    (stroke,) = strokes_of([on(106.1, 64, 1), on(114.3, 40, 6)], STRINGS)
    assert [note.pitch for note in stroke.struck] == [40, 64]
    assert stroke.onset_s == pytest.approx(0.090, abs=1e-3)


def test_a_note_that_was_slid_to_begins_when_its_pitch_arrived() -> None:
    """It is known 165 ms later, and is a stroke of its own."""
    ears = Ears(PROMPT)
    first = heard(ears, on(0, 64, 1), bend(500, 1, 2.0))
    assert [stroke.struck_pitches for stroke in first] == [(64,)]
    (slid,) = ears.tick(0.9)
    assert (slid.struck_pitches, slid.onset_s) == ((66,), 0.5)


def test_a_bend_in_the_attack_leaves_the_onset_where_it_was() -> None:
    """The pickup corrects itself: the string was plucked when it was first heard."""
    (stroke,) = strokes_of([on(1000, 64, 1), bend(1020, 1, 1.0), off(1500, 65, 1)], PROMPT)
    assert (stroke.struck_pitches, stroke.onset_s) == ((65,), 1.0)


def test_nothing_was_plucked_before_the_start() -> None:
    """However late the pickup is."""
    assert [stroke.onset_s for stroke in strokes_of([on(10, 40, 6)], STRINGS)] == [0.0]


# Certainty -------------------------------------------------------------------------------------------------------


def test_a_stroke_waits_for_its_soft_note() -> None:
    """A soft string 60 ms after the others is in doubt until 45 ms later, when the window has long run out."""
    ears = Ears(PROMPT, 0.07)
    assert heard(ears, on(0, 48, 5), on(5, 55, 3), on(65, 64, 1, 20)) == []
    assert ears.tick(0.1) == []
    assert ears.tick(0.13496) == []
    (stroke,) = ears.tick(0.135)
    assert stroke.struck_pitches == (48, 55, 64)


def test_time_is_told_on_the_grid() -> None:
    """A moment that is nearest to when the soft note is certain counts as that for all."""
    for now_s in (0.10999, 0.11, 0.11001):
        ears = Ears(PROMPT, 0.05)
        heard(ears, on(0, 48, 5), on(49, 52, 4), on(65, 64, 1, 20))
        assert ears.tick(now_s) == []


def test_a_stroke_that_waited_for_a_ghost_closes_with_it() -> None:
    """Not when its own window ran out: until then another note could have been one of it."""
    ears = Ears(PROMPT, 0.07)
    assert heard(ears, on(0, 48, 5), on(5, 55, 3), on(65, 64, 1, 20)) == []
    assert ears.tick(0.0950) == []
    (stroke,) = heard(ears, off(100, 64, 1), off(105, 48, 5))
    assert (stroke.struck_pitches, stroke.closed_s) == ((48, 55), 0.1)
    assert ears.cleaned == {GHOST: 1}


def test_a_soft_note_after_the_window_is_not_waited_for() -> None:
    """What was over before it is closed before it can be in doubt."""
    ears = Ears(PROMPT, 0.07)
    (stroke,) = heard(ears, on(0, 48, 5), on(80, 64, 1, 20))
    assert stroke.closed_s == 0.07


def test_a_bent_note_falls_into_its_stroke_whoever_tells_the_time() -> None:
    """It settles while a stroke is open, and nothing comes before that has closed."""
    messages = [on(0, 64, 1), bend(500, 1, 2.0), on(620, 48, 5), off(3000, 48, 5)]
    strokes = strokes_of(messages, PROMPT)
    assert [stroke.struck_pitches for stroke in strokes] == [(64,), (48, 66)]
    ears = Ears(PROMPT)
    assert with_ticks(ears, messages, [ms / 1000 for ms in range(0, 3000, 7)]) + ears.flush() == strokes


# What is known ---------------------------------------------------------------------------------------------------


def test_what_is_known_lags_as_the_lowest_string_does() -> None:
    """Two periods of a bass guitar's low E."""
    assert Ears(STRINGS).known_s(10.0) == pytest.approx(10.0 - 2 / 41.2, abs=3e-5)
    assert Ears(make_pickup("per-string lag -500")).known_s(10.0) == 10.0


def test_an_open_stroke_is_not_known_yet() -> None:
    """Until it has closed."""
    ears = Ears(PROMPT, 0.07)
    heard(ears, on(1000, 48, 5), on(1050, 55, 3))
    assert ears.known_s(1.1) == 1.0
    assert len(ears.tick(1.12)) == 1
    assert ears.known_s(1.12) == 1.12


def test_a_soft_note_in_doubt_is_not_known_yet() -> None:
    """Until it has outlived every ghost and its stroke has closed, or until it ends."""
    ears = Ears(PROMPT, 0.07)
    heard(ears, on(0, 48, 5))
    ears.tick(0.4)
    heard(ears, on(500, 64, 1, 20))
    assert ears.known_s(0.53) == 0.5
    heard(ears, off(535, 64, 1))
    assert ears.known_s(0.54) == 0.54


def test_a_pitch_that_is_about_to_arrive_is_not_known_yet() -> None:
    """Since it came near; until it has settled and its stroke has closed, or until it goes away."""
    ears = Ears(PROMPT, 0.07)
    heard(ears, on(0, 64, 1))
    ears.tick(0.4)
    heard(ears, bend(500, 1, 1.0))
    assert ears.known_s(0.6) == 0.5
    ears.tick(0.5 + SETTLE_S)
    assert ears.known_s(0.7) == 0.5
    ears.tick(0.75)
    assert ears.known_s(0.75) == 0.75
    heard(ears, bend(800, 1, 2.0), bend(900, 1, 0.0))
    assert ears.known_s(0.9) == 0.9


def test_the_window_may_change() -> None:
    """Between strokes."""
    ears = Ears(PROMPT, 0.04)
    assert len(heard(ears, on(0, 48, 5), on(50, 55, 3))) == 1
    ears.tick(1.0)
    ears.window_s = 0.08
    assert ears.window_s == 0.08
    assert heard(ears, on(1000, 48, 5), on(1050, 55, 3)) == []
    assert ears.sounding == (48, 55)


# Laws ------------------------------------------------------------------------------------------------------------

#: Ticks to the next message: none, wires, glitches, double triggers, strokes, slides, and a note that rings over.
WAITS = [0, 10, 60, 200, 500, 1000, 1130, 1400, 1600, 2000, 4125, 4200, 5000, ticks(1.0), ticks(21.0)]
#: Few pitches, so that they meet: neighbours, octaves and twelfths.
PITCHES = [48, 49, 55, 60, 61, 67, 72]


def messages_of(draws: Sequence[tuple[int, int, int, int, int]]) -> list[Message]:
    """Messages from whole numbers: wait, kind, channel, pitch and velocity (or value)."""
    found: list[tuple[int, tuple[int, ...]]] = []
    tick = 0
    for wait, kind, channel, pitch, value in draws:
        tick += WAITS[wait]
        note = PITCHES[pitch]
        # Notes, some of them soft, are most of it; then bends, the pedal, parameters, and what silences.
        data = {
            19: (0xE0 | channel, 0, value),
            20: (0xE0 | channel, 0, 96),
            21: (0xE0 | channel, 0, 64),
            22: (0xB0 | channel, 64, value),
            23: (0xB0 | channel, (120, 121, 123)[value % 3], 0),
            24: (0xB0 | channel, (100, 101, 6, 38)[pitch % 4], value % 13),
            25: (0xC0 | channel, value),
        }.get(kind, (0x90 | channel, note, value) if kind < 11 else (0x80 | channel, note, 0))
        found.append((tick, data))
        if kind in (9, 10) and value:
            # The pickup corrects itself: the same pitch, or a neighbour, right after an end.
            found += [(tick + 500, (0x80 | channel, note, 0)), (tick + 560, (0x90 | channel, note + kind - 9, value))]
            tick += 560
    return [Message(tick * TICK_US / 1_000_000, data) for tick, data in found]


streams = (
    st.sampled_from([1, 6, 16])
    .flatmap(
        lambda channels: st.lists(
            st.tuples(
                st.integers(0, len(WAITS) - 1),
                st.integers(0, 25),
                st.integers(0, channels - 1),
                st.integers(0, len(PITCHES) - 1),
                st.sampled_from([0, 12, 30, 35, 36, 64, 80, 100, 127]),
            ),
            max_size=60,
        )
    )
    .map(messages_of)
)
moments = st.lists(st.floats(0, 30), max_size=60)
by_name = pytest.mark.parametrize("name", NAMES)


@by_name
@settings(max_examples=examples(40))
@given(messages=streams, at=moments, grow=st.booleans())
def test_strokes_depend_on_the_messages_alone(name: str, messages: list[Message], at: list[float], grow: bool) -> None:
    """However often time is told, and at whatever moments: also what is given out while it grows."""

    def said(times: list[float]) -> list[Stroke]:
        ears = Ears(make_pickup(name), as_they_grow=grow)
        return with_ticks(ears, messages, times) + ears.flush()

    assert said([*at, *(message.time_s for message in messages)]) == said([])


@by_name
@settings(max_examples=examples(30))
@given(messages=streams)
def test_silence_for_ever_says_what_flushing_says(name: str, messages: list[Message]) -> None:
    """Also that a bent note settles."""
    flushed, ticked = Ears(make_pickup(name)), Ears(make_pickup(name))
    assert heard(flushed, *messages) == heard(ticked, *messages)
    assert flushed.flush() == ticked.tick(messages[-1].time_s + 100.0 if messages else 100.0)
    assert ticked.flush() == []


@by_name
@settings(max_examples=examples(30))
@given(messages=streams)
def test_growing_changes_nothing_that_settles(name: str, messages: list[Message]) -> None:
    """Every settled stroke was given out before, with the same notes."""
    ears = Ears(make_pickup(name), as_they_grow=True)
    strokes = heard(ears, *messages) + ears.flush()
    assert [stroke for stroke in strokes if stroke.settled] == strokes_of(messages, make_pickup(name))
    for before, stroke in zip([None, *strokes], strokes, strict=False):
        if stroke.settled:
            assert before is not None
            assert before.struck == stroke.struck
            assert not before.settled


@by_name
@settings(max_examples=examples(40))
@given(messages=streams, at=moments)
def test_what_is_known_does_not_change(name: str, messages: list[Message], at: list[float]) -> None:
    """What is known never becomes less, and nothing plucked before it comes out later, not even growing."""
    ears = Ears(make_pickup(name), as_they_grow=True)
    known_s = -inf
    for time_s, message in sorted([*((now_s, None) for now_s in at), *((m.time_s, m) for m in messages)], key=_first):
        strokes = ears.tick(time_s) if message is None else ears.feed(message)
        # No string is lower than the one that is waited for.
        assert all(note.time_s >= known_s for stroke in strokes for note in stroke.struck if note.pitch >= 28)
        assert ears.known_s(time_s) >= known_s
        known_s = ears.known_s(time_s)
    assert all(note.time_s >= known_s for stroke in ears.flush() for note in stroke.struck if note.pitch >= 28)


def _first(row: tuple[float, Message | None]) -> float:
    return row[0]


def test_strokes_of_an_empty_take_are_none() -> None:
    """Nothing in, nothing out."""
    assert strokes_of([], STRINGS) == []
