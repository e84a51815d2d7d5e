"""Which notes are one stroke. Times in the examples are milliseconds, for reading."""

from __future__ import annotations

from itertools import pairwise, zip_longest
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.ears import strokes_of
from listener.hearing.events import NoteEvent, NoteOff, NoteOn, Stroke, on_grid
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


def gather(
    *events: NoteEvent, target: tuple[int, ...] | None = None, window_s: float = 0.07, settle_s: float = 0.03
) -> list[Stroke]:
    """All strokes of these events."""
    gatherer = Gatherer(window_s, settle_s)
    gatherer.expect(target)
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


def test_a_double_trigger_after_its_stroke_opens_none() -> None:
    """A stroke that settled early is not followed by a phantom of one note."""
    events = [on(0, 48, 5), on(5, 55, 3), on(10, 64, 1), off(50, 64, 1), on(50, 64, 1)]
    strokes = gather(*events, target=C_SPREAD)
    assert [(stroke.struck_pitches, stroke.settled) for stroke in strokes] == [(C_SPREAD, False), (C_SPREAD, True)]


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


@pytest.mark.parametrize(
    ("ended_ms", "target", "held"),
    [
        (449, (48, 64), ()),
        (450, (48, 64), ()),
        (451, (48, 64), (48,)),
        (510, (48, 64), (48,)),
        (451, (50, 64), ()),
        (451, None, ()),
    ],
)
def test_a_tone_of_the_target_that_only_just_ended_counts_as_held(
    ended_ms: float, target: tuple[int, ...] | None, held: tuple[int, ...]
) -> None:
    """From 50 ms before the stroke on, and only for tones that are wanted."""
    strokes = gather(on(0, 48, 5), off(ended_ms, 48, 5), on(500, 64, 1), target=target)
    assert strokes[-1].held_pitches == held


def test_a_replucked_string_holds_nothing() -> None:
    """What its string sounded before is gone, even when the target wants that pitch."""
    strokes = gather(on(0, 48, 5), off(498, 48, 5), on(500, 50, 5), on(505, 64, 1), target=(48, 50, 64))
    assert strokes[-1].held_pitches == ()


# With a target ---------------------------------------------------------------------------------------------------


def test_the_target_is_announced_at_the_onset_that_fulfils_it() -> None:
    """Unsettled at once, settled 30 ms later, both with the same notes."""
    gatherer = Gatherer(0.07)
    gatherer.expect(C_SPREAD)
    assert gatherer.feed(on(0, 48)) == []
    assert gatherer.feed(on(10, 55)) == []
    (early,) = gatherer.feed(on(20, 64))
    assert (early.settled, early.struck_pitches, early.closed_s) == (False, C_SPREAD, 0.02)
    assert gatherer.tick(0.049) == []
    (settled,) = gatherer.tick(0.0501)
    assert (settled.settled, settled.struck) == (True, early.struck)
    assert settled.closed_s == pytest.approx(0.050)
    assert gatherer.tick(1.0) == []


def test_a_later_string_spoils_what_was_announced() -> None:
    """Then the usual window runs, and the settled stroke has every note."""
    strokes = gather(on(0, 48), on(5, 55), on(10, 64), on(39, 69), target=C_SPREAD)
    assert [stroke.settled for stroke in strokes] == [False, True]
    assert strokes[1].struck_pitches == (*C_SPREAD, 69)
    assert strokes[1].closed_s == pytest.approx(0.109)


def test_a_slow_strum_waits_longer_for_what_may_spoil_it() -> None:
    """Strings 25 ms apart: a fourth one 35 ms after the target was complete still belongs to the stroke."""
    strokes = gather(on(0, 48, 5), on(25, 55, 3), on(50, 64, 1), on(85, 45, 6), target=C_SPREAD)
    assert [(s.settled, len(s.struck)) for s in strokes] == [(False, 3), (True, 4)]
    assert gather(on(0, 48, 5), on(25, 55, 3), on(50, 64, 1), target=C_SPREAD)[1].closed_s == pytest.approx(
        0.0875, abs=4e-5
    )


def test_a_second_string_after_the_target_lets_the_window_run_even_when_it_fits() -> None:
    """A unison on another string: more may come, so there is no hurry any more."""
    strokes = gather(on(0, 48, 5), on(5, 55, 3), on(10, 64, 1), on(20, 64, 2), target=C_SPREAD)
    assert [s.settled for s in strokes] == [False, True]
    assert strokes[1].closed_s == 0.090


def test_an_end_of_another_pitch_does_not_silence_a_string() -> None:
    """The string has gone on to another note by then."""
    gatherer = Gatherer(0.07)
    for event in (on(0, 63, 1), on(20, 64, 1), off(25, 63, 1)):
        gatherer.feed(event)
    assert gatherer.sounding == (64,)


def test_a_foreign_note_keeps_the_target_from_being_announced() -> None:
    """Everything wanted sounds, but so does something else that was plucked."""
    assert [s.settled for s in gather(on(0, 48), on(5, 55), on(6, 66), on(10, 64), target=C_SPREAD)] == [True]


def test_a_foreign_note_that_only_rings_does_not() -> None:
    """Ringing strings that were not plucked never count against the player."""
    strokes = gather(on(0, 40), on(500, 48), on(505, 55), on(510, 64), target=C_SPREAD)
    assert [s.settled for s in strokes] == [True, False, True]
    assert strokes[-1].held_pitches == (40,)


def test_held_tones_complete_the_target_but_the_window_runs_on() -> None:
    """A common tone that still rings may be plucked again a moment later: that is no second chord."""
    first = [on(0, 48, 5), on(5, 55, 3), on(10, 64, 1)]
    early, settled = gather(*first, on(500, 65, 1), on(545, 55, 3), target=(48, 55, 65))[1:]
    assert (early.settled, early.struck_pitches, early.held_pitches) == (False, (65,), (48, 55))
    assert (settled.settled, settled.struck_pitches, settled.held_pitches) == (True, (55, 65), (48,))
    assert settled.closed_s == pytest.approx(0.615)


def test_a_glitch_that_corrects_itself_is_announced_then() -> None:
    """The semitone below on the same string for 20 ms, then the right note."""
    strokes = gather(on(0, 48, 5), on(5, 55, 3), on(8, 63, 1), off(28, 63, 1), on(28, 64, 1), target=C_SPREAD)
    assert [(s.settled, s.struck_pitches) for s in strokes] == [(False, C_SPREAD), (True, C_SPREAD)]
    assert [s.closed_s for s in strokes] == [pytest.approx(0.028), pytest.approx(0.058)]


def test_the_next_chord_may_follow_quickly() -> None:
    """Two chords 50 ms apart on other strings are two strokes when the first was the target."""
    events = [on(0, 48, 6), on(5, 55, 4), on(10, 64, 2), on(60, 50, 5), on(62, 57, 3), on(64, 66, 1)]
    assert [len(s.struck) for s in gather(*events, target=C_SPREAD) if s.settled] == [3, 3]
    assert [len(s.struck) for s in gather(*events) if s.settled] == [6]


def test_a_new_target_weighs_what_has_been_plucked_already() -> None:
    """A stroke that fulfils it is given out by the next call, whichever that is."""
    for call in (lambda g: g.tick(0.001), lambda g: g.feed(off(1, 30)), lambda g: g.flush()[:1]):
        gatherer = Gatherer(0.07)
        gatherer.feed(on(0, 60))
        gatherer.expect((60,))
        (stroke,) = call(gatherer)
        assert (stroke.settled, stroke.struck_pitches) == (False, (60,))


def test_expecting_the_same_again_announces_nothing_twice() -> None:
    """A loop may say what it expects as often as it likes."""
    gatherer = Gatherer(0.07)
    gatherer.expect((60,))
    assert len(gatherer.feed(on(0, 60))) == 1
    gatherer.expect((60,))
    assert gatherer.tick(0.01) == []


def test_sounding_and_opened_tell_the_moment() -> None:
    """For the screen."""
    gatherer = Gatherer(0.07)
    assert (gatherer.sounding, gatherer.opened_s) == ((), None)
    gatherer.feed(on(0, 64, 1))
    gatherer.feed(on(5, 48, 5))
    assert (gatherer.sounding, gatherer.opened_s) == ((48, 64), 0.0)
    gatherer.feed(off(30, 48, 5))
    gatherer.tick(1.0)
    assert (gatherer.sounding, gatherer.opened_s) == ((64,), None)


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


targets = st.one_of(st.none(), st.sets(st.integers(60, 65), min_size=1, max_size=3).map(tuple))
windows = st.sampled_from([0.04, 0.06, 0.07, 0.08])


@given(performances(), targets, windows, st.lists(st.floats(0, 6), max_size=60), st.booleans())
def test_strokes_depend_on_the_times_of_notes_alone(
    events: list[NoteEvent], target: tuple[int, ...] | None, window_s: float, ticks: list[float], before_each: bool
) -> None:
    """Whatever the schedule of ticks, also exactly at and between notes of one time, the strokes are the same."""
    gatherer = Gatherer(window_s)
    gatherer.expect(target)
    pending = sorted(ticks)
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
    assert found == gather(*events, target=target, window_s=window_s)


@given(performances(), targets, windows)
def test_flushing_is_waiting_for_ever(events: list[NoteEvent], target: tuple[int, ...] | None, window_s: float) -> None:
    """The end of a file and a long silence give the same."""
    endings = []
    for last in (lambda g: g.flush(), lambda g: g.tick(inf), lambda g: g.tick(1000.0)):
        gatherer = Gatherer(window_s)
        gatherer.expect(target)
        for event in events:
            gatherer.feed(event)
        endings.append(last(gatherer))
    assert endings[0] == endings[1] == endings[2]


@given(performances(), targets, windows)
def test_every_pluck_is_in_exactly_one_stroke(
    events: list[NoteEvent], target: tuple[int, ...] | None, window_s: float
) -> None:
    """Or was folded into a note of its string that began less than 60 ms before."""
    strokes = [s for s in gather(*events, target=target, window_s=window_s) if s.settled]
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


@given(performances(), targets, windows)
def test_strokes_are_short_apart_and_in_order(
    events: list[NoteEvent], target: tuple[int, ...] | None, window_s: float
) -> None:
    """Onsets inside rise, no gap reaches the window, no stroke the cap, none closes after the next one opens."""
    strokes = [s for s in gather(*events, target=target, window_s=window_s) if s.settled]
    for stroke in strokes:
        onsets = [note.time_s for note in stroke.struck]
        assert onsets == sorted(onsets)
        assert all(b - a < window_s + 1e-9 for a, b in pairwise(onsets))
        assert onsets[-1] <= stroke.closed_s <= onsets[0] + LONGEST_S + 1e-9
        assert all(note.time_s <= stroke.onset_s for note in stroke.held)
    assert all(a.closed_s <= b.onset_s for a, b in pairwise(strokes))


@given(performances(), targets, windows)
def test_an_announcement_is_kept_or_spoilt_by_a_later_note(
    events: list[NoteEvent], target: tuple[int, ...] | None, window_s: float
) -> None:
    """Each unsettled stroke fulfils the target and is followed at once by its own settled one."""
    strokes = gather(*events, target=target, window_s=window_s)
    for early, later in zip_longest(strokes, strokes[1:]):
        if early.settled:
            continue
        assert target is not None
        assert set(early.struck_pitches) <= set(target) <= {*early.struck_pitches, *early.held_pitches}
        assert later is not None
        assert later.settled
        assert later.onset_s == early.onset_s
        assert later.closed_s >= early.closed_s


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
