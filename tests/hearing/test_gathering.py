"""Which notes are one stroke. Times in the examples are milliseconds, for reading."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.ears import strokes_of
from listener.hearing.events import NoteEvent, NoteOff, NoteOn, Stroke, on_grid, ticks
from listener.hearing.gathering import (
    LONGEST_S,
    RETRIGGER_S,
    Gatherer,
    window_for,
)

C_SPREAD = (48, 55, 64)


def on(ms: float, pitch: int, string: int | None = None, velocity: int = 80) -> NoteOn:
    """A note-on."""
    return NoteOn(on_grid(ms / 1000), pitch, velocity, string)


def off(ms: float, pitch: int, string: int | None = None) -> NoteOff:
    """A note-off."""
    return NoteOff(on_grid(ms / 1000), pitch, string)


def gather(*events: NoteEvent, window_s: float = 0.07, as_they_grow: bool = False) -> list[Stroke]:
    """All strokes of these events."""
    gatherer = Gatherer(window_s, as_they_grow=as_they_grow)
    return [stroke for event in events for stroke in gatherer.feed(event)] + gatherer.flush()


def pitches(strokes: list[Stroke]) -> list[tuple[int, ...]]:
    """Plucked pitches of each."""
    return [stroke.struck_pitches for stroke in strokes]


# When a stroke closes -------------------------------------------------------------------------------------------


def test_notes_within_the_window_are_one_stroke() -> None:
    """The window counts from the last onset, not from the first."""
    (stroke,) = gather(on(0, 48), on(60, 55), on(120, 64))
    assert (stroke.struck_pitches, stroke.spread_ms, stroke.settled) == (C_SPREAD, 120.0, True)
    assert stroke.closed_s == pytest.approx(0.190)


def test_an_onset_at_the_end_of_the_window_opens_the_next_stroke() -> None:
    """At the very end counts as after it."""
    assert pitches(gather(on(0, 48), on(69.96, 55))) == [(48, 55)]
    assert pitches(gather(on(0, 48), on(70, 55))) == [(48,), (55,)]


def test_no_stroke_outlasts_the_cap() -> None:
    """A run of notes 50 ms apart is cut at 0.3 s though no window ever runs out."""
    strokes = gather(*(on(50 * n, 40 + n) for n in range(10)))
    assert [len(stroke.struck) for stroke in strokes] == [6, 4]
    assert strokes[0].closed_s == pytest.approx(LONGEST_S)


def test_a_string_plucked_again_closes_the_stroke_at_once() -> None:
    """The new note is the first of the next stroke, and the old one closes at its time."""
    strokes = gather(on(0, 48, 5), on(10, 64, 1), on(75, 65, 1), on(76, 49, 5))
    assert pitches(strokes) == [(48, 64), (49, 65)]
    assert strokes[0].closed_s == 0.075


def test_without_strings_the_same_pitch_plucked_again_closes_the_stroke() -> None:
    """A pitch stands for its string."""
    assert pitches(gather(on(0, 48), on(50, 55), on(65, 48))) == [(48, 55), (48,)]


def test_a_double_trigger_is_folded_into_its_note() -> None:
    """Within 60 ms the same string keeps its onset and takes the newer pitch; the window is not prolonged."""
    (stroke,) = gather(on(0, 48, 5), on(20, 63, 1, 30), off(35, 63, 1), on(35, 64, 1, 70))
    assert stroke.struck == (on(0, 48, 5), on(20, 64, 1, 70))
    assert stroke.closed_s == pytest.approx(0.090)
    (faded,) = gather(on(0, 48, 5), on(20, 63, 1, 90), off(35, 63, 1), on(35, 64, 1, 40))
    assert faded.struck == (on(0, 48, 5), on(20, 64, 1, 90))  # as loud as it was plucked


@pytest.mark.parametrize("string", [None, 1])
def test_a_string_plucked_again_after_60_ms_is_a_new_pluck(string: int | None) -> None:
    """At the very end counts as after it; however long the window is."""
    assert pitches(gather(on(0, 64, string), on(59.96, 64, string))) == [(64,)]
    assert pitches(gather(on(0, 64, string), on(60, 64, string))) == [(64,), (64,)]


def test_a_double_trigger_after_its_stroke_opens_none() -> None:
    """With a short window, a stroke that has closed is not followed by a phantom of one note; the note rings."""
    events = [on(0, 48, 5), on(5, 55, 3), on(10, 64, 1), off(50, 64, 1), on(51, 65, 1), on(80, 47, 6)]
    strokes = gather(*events, window_s=0.04)
    assert pitches(strokes) == [C_SPREAD, (47,)]
    assert strokes[1].held == (on(0, 48, 5), on(5, 55, 3), on(10, 65, 1))


def test_the_window_follows_the_click() -> None:
    """Half the step within 40 to 80 ms, 70 ms at own pace, and never under what one chord needs at own pace."""
    assert [window_for(step) for step in (None, 2.0, 0.16, 0.1, 0.08, 0.01)] == [0.07, 0.08, 0.08, 0.05, 0.04, 0.04]
    low_e_s, high_e_s, wire_s, people_s = 2 / 82.4069, 2 / 329.628, 15 * 320e-6, 0.0211
    assert window_for(None) > low_e_s - high_e_s + wire_s + people_s


# What rang on ---------------------------------------------------------------------------------------------------


def test_held_notes_rang_before_and_still_ring_at_the_closing() -> None:
    """Not what ended before, nor during the stroke, nor what was plucked in it."""
    strokes = gather(
        *(on(0, pitch) for pitch in (40, 48, 52, 55)),
        off(300, 40),
        on(500, 55),
        on(520, 64),
        off(550, 48),
    )
    assert strokes[1].held_pitches == (52,)
    assert strokes[1].struck_pitches == (55, 64)
    assert strokes[0].held == ()


def test_what_ends_as_a_stroke_closes_was_held() -> None:
    """At the very end counts as after it."""
    for ms, held in ((569.96, ()), (570, (on(0, 48, 5),))):
        assert gather(on(0, 48, 5), on(500, 64, 1), off(ms, 48, 5))[1].held == held


# What has ended --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ended_ms", [1, 449, 470, 499.96, 500, 510, 589.96])
def test_a_tone_that_has_ended_is_not_held(ended_ms: float) -> None:
    """However shortly before, or while the stroke is being gathered: why it ended nobody asks."""
    events = sorted((on(500, 64, 1), on(520, 55, 3), off(ended_ms, 48, 5)), key=lambda event: event.time_s)
    (_, stroke) = gather(on(0, 48, 5), *events)
    assert (stroke.struck_pitches, stroke.held, stroke.gone) == ((55, 64), (), ())


def test_a_string_that_was_plucked_again_does_not_hold_what_it_sounded_before() -> None:
    """Neither does a pitch where strings are not told apart."""
    (_, stroke) = gather(on(0, 48, 5), off(498, 48, 5), on(500, 50, 5), on(505, 64, 1))
    assert (stroke.struck_pitches, stroke.held) == ((50, 64), ())
    (_, stroke) = gather(on(0, 48), off(498, 48), on(500, 48), on(505, 64))
    assert (stroke.struck_pitches, stroke.held) == ((48, 64), ())


@pytest.mark.parametrize(("ended_ms", "gone"), [(540, True), (574.96, True), (575, False), (576, False)])
def test_a_struck_note_that_has_ended_by_the_closing_is_gone(ended_ms: float, gone: bool) -> None:
    """It was plucked all the same. At the very end counts as after it."""
    (stroke,) = gather(on(500, 50, 5), on(505, 64, 1), off(ended_ms, 50, 5))
    assert stroke.struck == (on(500, 50, 5), on(505, 64, 1))
    assert stroke.gone == ((on(500, 50, 5),) if gone else ())


def test_what_the_pickup_took_for_another_pitch_is_not_gone() -> None:
    """Where strings are not told apart: it was this note, with its onset and its place in the stroke."""
    mended = on(525, 64)._replace(instead_of=63)
    (stroke,) = gather(on(500, 63), on(505, 48), off(525, 63), mended)
    assert stroke.struck == (mended._replace(time_s=0.5), on(505, 48))
    assert stroke.gone == ()


# As they grow ----------------------------------------------------------------------------------------------------


def test_a_stroke_is_given_out_with_each_of_its_notes() -> None:
    """Not settled, as it stands; and settled once it has closed."""
    gatherer = Gatherer(0.07, as_they_grow=True)
    for count, note in enumerate((on(0, 48, 5), on(10, 55, 3), on(20, 64, 1)), 1):
        (stroke,) = gatherer.feed(note)
        assert (len(stroke.struck), stroke.settled, stroke.closed_s) == (count, False, note.time_s)
    assert gatherer.tick(0.08996) == []
    (settled,) = gatherer.tick(0.09)
    assert (settled.struck, settled.settled, settled.closed_s) == (stroke.struck, True, 0.09)
    assert gatherer.tick(1.0) == []


def test_a_correction_is_given_out_too() -> None:
    """The semitone below on the same string for 20 ms, then the right note; its end says nothing."""
    gatherer = Gatherer(0.07, as_they_grow=True)
    grown = [gatherer.feed(event) for event in (on(0, 48, 5), on(8, 63, 1), off(28, 63, 1), on(28, 64, 1))]
    assert [pitches(strokes) for strokes in grown] == [[(48,)], [(48, 63)], [], [(48, 64)]]
    assert gatherer.feed(on(67.96, 64, 1)) != []
    assert [pitches(gatherer.feed(event)) for event in (on(78, 65, 2),)] == [[(48, 64), (65,)]]


def test_what_closes_a_stroke_begins_the_next() -> None:
    """Both are given out, the closed one first."""
    gatherer = Gatherer(0.07, as_they_grow=True)
    gatherer.feed(on(0, 64, 1))
    assert [(s.struck_pitches, s.settled) for s in gatherer.feed(on(65, 65, 1))] == [((64,), True), ((65,), False)]


def test_a_stroke_that_grows_has_what_is_held_and_what_is_gone() -> None:
    """As they are at that moment."""
    events = (on(0, 40, 6), on(500, 48, 5), on(505, 64, 1), off(508, 48, 5), on(510, 55, 3), off(515, 40, 6))
    strokes = [stroke for stroke in gather(*events, as_they_grow=True) if 64 in stroke.struck_pitches]
    assert [stroke.held for stroke in strokes] == [(on(0, 40, 6),), (on(0, 40, 6),), ()]
    assert [stroke.gone for stroke in strokes] == [(), (on(500, 48, 5),), (on(500, 48, 5),)]
    assert [stroke.settled for stroke in strokes] == [False, False, True]


# Certainty -------------------------------------------------------------------------------------------------------


def test_no_stroke_settles_while_a_note_of_it_is_in_doubt() -> None:
    """Not by the passing of time; once it is certain, at that time."""
    gatherer = Gatherer(0.07)
    gatherer.feed(on(0, 48, 5))
    gatherer.certain_tick = ticks(0.105)
    assert gatherer.tick(0.10496) == []
    assert gatherer.feed(off(104, 48, 5)) == []
    (stroke,) = gatherer.tick(0.105)
    assert stroke.closed_s == 0.105


def test_a_note_that_was_in_doubt_takes_its_place() -> None:
    """It may be the first of its stroke, and then it counts from there."""
    gatherer = Gatherer(0.07, as_they_grow=True)
    gatherer.feed(on(40, 48, 5))
    late = on(30, 64, 1)._replace(sure_s=0.075)
    (grown,) = gatherer.feed(late)
    assert (grown.struck, grown.closed_s) == ((late, on(40, 48, 5)), 0.075)
    assert gatherer.since_s == 0.03
    assert gatherer.tick(0.10996) == []
    (settled,) = gatherer.tick(0.11)
    assert settled.struck == (late, on(40, 48, 5))


def test_a_note_after_the_window_waits_for_nobody() -> None:
    """It opens the next stroke though a note of the one before may still be in doubt."""
    gatherer = Gatherer(0.07)
    gatherer.feed(on(0, 48, 5))
    gatherer.certain_tick = ticks(0.105)
    assert pitches(gatherer.feed(on(70, 64, 1))) == [(48,)]
    assert gatherer.since_s == 0.07


def test_the_cap_counts_from_a_first_note_that_was_in_doubt() -> None:
    """It began at 0 and was known after 45 ms."""
    late = on(0, 40, 6)._replace(sure_s=0.045)
    first, second = gather(on(40, 41), late, *(on(ms, ms) for ms in (100, 160, 220, 280, 310)))
    assert (len(first.struck), first.closed_s) == (6, 0.3)
    assert second.struck == (on(310, 310),)


def test_an_end_of_another_pitch_does_not_silence_a_string() -> None:
    """The string has gone on to another note by then."""
    gatherer = Gatherer(0.07)
    for event in (on(0, 63, 1), on(20, 64, 1), off(25, 63, 1)):
        gatherer.feed(event)
    assert gatherer.sounding == (64,)


def test_sounding_and_since_tell_the_moment() -> None:
    """For the screen, and for who has to wait."""
    gatherer = Gatherer(0.07)
    assert (gatherer.sounding, gatherer.since_s) == ((), inf)
    gatherer.feed(on(1, 64, 1))
    gatherer.feed(on(5, 48, 5))
    assert (gatherer.sounding, gatherer.since_s) == ((48, 64), 0.001)
    gatherer.feed(off(30, 48, 5))
    gatherer.tick(1.0)
    assert (gatherer.sounding, gatherer.since_s) == ((64,), inf)


# Laws ------------------------------------------------------------------------------------------------------------


@st.composite
def performances(draw: st.DrawFn) -> list[NoteEvent]:
    """Rising note events, with and without strings, thick and thin; offs may end nothing."""
    gaps = draw(st.lists(st.sampled_from([0, 1, 10, 29.96, 30, 40, 59.96, 60, 70, 200, 400]), max_size=40))
    with_strings = draw(st.booleans())
    events: list[NoteEvent] = []
    ms = 0.0
    for gap in gaps:
        ms += gap
        pitch = draw(st.integers(60, 65))
        string = draw(st.integers(1, 3)) if with_strings else None
        events.append(off(ms, pitch, string) if draw(st.integers(0, 3)) == 0 else on(ms, pitch, string))
    return events


windows = st.sampled_from([0.04, 0.06, 0.07, 0.08])


@given(performances(), windows, st.lists(st.floats(0, 6), max_size=60), st.booleans(), st.booleans())
def test_strokes_depend_on_the_times_of_notes_alone(
    events: list[NoteEvent], window_s: float, moments: list[float], before_each: bool, growing: bool
) -> None:
    """Whatever the schedule of ticks, also exactly at and between notes of one time, the strokes are the same."""
    gatherer = Gatherer(window_s, as_they_grow=growing)
    pending = sorted(moments)
    found: list[Stroke] = []
    for event in events:
        while pending and pending[0] <= event.time_s:
            found += gatherer.tick(pending.pop(0))
        if before_each:
            found += gatherer.tick(event.time_s)
        found += gatherer.feed(event)
        if before_each:
            found += gatherer.tick(event.time_s)
    for now_s in pending:
        found += gatherer.tick(now_s)
    found += gatherer.flush()
    assert found == gather(*events, window_s=window_s, as_they_grow=growing)


@given(performances(), windows)
def test_flushing_is_waiting_for_ever(events: list[NoteEvent], window_s: float) -> None:
    """The end of a file and a long silence give the same."""
    endings = []
    for last in (lambda g: g.flush(), lambda g: g.tick(inf), lambda g: g.tick(1000.0)):
        gatherer = Gatherer(window_s)
        for event in events:
            gatherer.feed(event)
        endings.append(last(gatherer))
    assert endings[0] == endings[1] == endings[2]


@given(performances(), windows)
def test_every_pluck_is_in_exactly_one_stroke(events: list[NoteEvent], window_s: float) -> None:
    """Or was folded into a note of its string that began less than 60 ms before."""
    strokes = [s for s in gather(*events, window_s=window_s) if s.settled]
    counted = [
        (note.time_s, note.string, note.pitch if note.string is None else 0) for s in strokes for note in s.struck
    ]
    expected = []
    began: dict[tuple[int | None, int], float] = {}
    for event in events:
        if isinstance(event, NoteOn):
            place = (event.string, event.pitch if event.string is None else 0)
            if event.time_s - began.get(place, -inf) >= RETRIGGER_S - 1e-9:
                began[place] = event.time_s
                expected.append((event.time_s, *place))
    assert counted == expected


@given(performances(), windows)
def test_strokes_are_short_apart_and_in_order(events: list[NoteEvent], window_s: float) -> None:
    """Onsets inside rise, no gap reaches the window, no stroke the cap, none closes after the next one opens."""
    strokes = [s for s in gather(*events, window_s=window_s) if s.settled]
    for stroke in strokes:
        onsets = [note.time_s for note in stroke.struck]
        assert onsets == sorted(onsets)
        assert all(b - a < window_s + 1e-9 for a, b in pairwise(onsets))
        assert onsets[-1] <= stroke.closed_s <= onsets[0] + LONGEST_S + 1e-9
        assert all(note.time_s <= stroke.onset_s for note in stroke.held)
    assert all(a.closed_s <= b.onset_s for a, b in pairwise(strokes))


@given(performances(), windows)
def test_growing_changes_nothing_but_what_is_said_on_the_way(events: list[NoteEvent], window_s: float) -> None:
    """The settled strokes are the same; each was given out before with all of its notes, and never shrank."""
    strokes = gather(*events, window_s=window_s, as_they_grow=True)
    assert [stroke for stroke in strokes if stroke.settled] == gather(*events, window_s=window_s)
    for early, later in pairwise(strokes):
        if early.settled:
            assert len(later.struck) == 1
        else:
            assert later.onset_s == early.onset_s
            assert later.closed_s >= early.closed_s
            assert len(later.struck) - len(early.struck) in ((0,) if later.settled else (0, 1))
            if later.settled:
                assert later.struck == early.struck
    assert not strokes or strokes[-1].settled


@given(performances(), windows, st.integers(1, 50_000))
def test_the_hour_does_not_matter(events: list[NoteEvent], window_s: float, later: int) -> None:
    """The same notes some whole seconds later make the same strokes, to the edges of their windows."""
    moved = [
        NoteOn(on_grid(e.time_s + later), e.pitch, e.velocity, e.string)
        if isinstance(e, NoteOn)
        else NoteOff(on_grid(e.time_s + later), e.pitch, e.string)
        for e in events
    ]
    there, here = gather(*moved, window_s=window_s), gather(*events, window_s=window_s)
    assert pitches(there) == pitches(here)
    assert [s.held_pitches for s in there] == [s.held_pitches for s in here]


def test_strokes_of_an_empty_take_are_none() -> None:
    """Nothing in, nothing out."""
    from listener.hearing.pickup import make_pickup

    assert strokes_of([], make_pickup("single")) == []
