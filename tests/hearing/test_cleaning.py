"""Telling the pickup's errors from notes. Times in the examples are milliseconds, for reading."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import with_ticks
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.cleaning import (
    DOUBLE,
    GHOST,
    OCTAVE_GLITCH,
    RANG_OVER,
    SEMITONE_GLITCH,
    Cleaner,
    cleaning_rules,
    counted_words,
)
from listener.hearing.ears import Ears
from listener.hearing.events import Message, NoteEvent, NoteOff, NoteOn, Stroke, on_grid
from listener.hearing.events import ticks as grid_ticks
from listener.hearing.pickup import make_pickup, pickup_names
from listener.hearing.plucks import Plucks
from listener.music.pitch import frequency_hz

STRINGS, SINGLE = make_pickup("per-string"), make_pickup("single")


def on(ms: float, pitch: int, string: int | None = None, velocity: int = 80) -> NoteOn:
    """A note-on."""
    return NoteOn(on_grid(ms / 1000), pitch, velocity, string)


def off(ms: float, pitch: int, string: int | None = None) -> NoteOff:
    """A note-off."""
    return NoteOff(on_grid(ms / 1000), pitch, string)


def cleaned(*events: NoteEvent, end_ms: float = 10_000.0, strings: bool = True) -> tuple[list[NoteEvent], Cleaner]:
    """What comes out, and the cleaner."""
    cleaner = Cleaner(STRINGS if strings else SINGLE)
    found = [clean for event in events for clean in cleaner.feed(event)]
    return found + cleaner.tick(end_ms / 1000), cleaner


def test_a_soft_short_note_beside_a_loud_one_is_a_ghost() -> None:
    """An octave above on the neighbouring string, 30 ms long: neither its beginning nor its end comes out."""
    found, cleaner = cleaned(on(0, 48, 5), on(10, 60, 4, 20), off(40, 60, 4), off(500, 48, 5))
    assert found == [on(0, 48, 5), off(500, 48, 5)]
    assert cleaner.counts == {GHOST: 1}


def test_a_soft_note_that_lives_comes_out_with_its_own_onset() -> None:
    """Late, and saying when it was certain."""
    cleaner = Cleaner(STRINGS)
    assert cleaner.feed(on(0, 48, 5)) == [on(0, 48, 5)]
    assert cleaner.feed(on(10, 60, 4, 20)) == []
    assert cleaner.certain_tick == grid_ticks(0.055)
    assert cleaner.tick(0.054) == []
    (late,) = cleaner.tick(0.060)
    assert late == on(10, 60, 4, 20)._replace(sure_s=0.055)
    assert not cleaner.counts


def test_a_ghost_of_an_open_string_that_was_let_go_is_told() -> None:
    """Nothing sounds any more, but what did was loud and has only just ended."""
    found, cleaner = cleaned(on(0, 57, 3), off(700, 57, 3), on(705, 55, 3, 18), off(735, 55, 3))
    assert found == [on(0, 57, 3), off(700, 57, 3)]
    assert cleaner.counts == {GHOST: 1}


def test_a_ghost_beside_a_soft_note_of_a_loud_player_is_told() -> None:
    """The hand that brushes a string has not become softer with the one note: what it usually plays counts, too."""
    loud = [event for n in range(8) for event in (on(1000 * n, 48, 5, 100), off(1000 * n + 500, 48, 5))]
    found, cleaner = cleaned(*loud, on(9000, 48, 5, 50), on(9010, 60, 4, 25), off(9040, 60, 4), end_ms=9500.0)
    assert found == [*loud, on(9000, 48, 5, 50)]
    assert cleaner.counts == {GHOST: 1}


def test_a_soft_player_is_not_taken_for_a_ghost() -> None:
    """Soft is measured against what sounds and what was played: after the first note nothing waits."""
    events = [on(1000 * n + 7 * k, 48 + 7 * k, 5 - k, 30) for n in range(3) for k in range(3)]
    assert cleaned(*events)[0] == events


@pytest.mark.parametrize(
    ("first", "kind"), [(64, DOUBLE), (63, SEMITONE_GLITCH), (65, SEMITONE_GLITCH), (76, OCTAVE_GLITCH)]
)
def test_corrections_on_one_string_are_counted_and_passed_on(first: int, kind: str) -> None:
    """The gatherer folds them into one note."""
    events = (on(0, first, 1), off(25, first, 1), on(25, 64, 1))
    found, cleaner = cleaned(*events)
    assert (found, cleaner.counts) == (list(events), {kind: 1})


@pytest.mark.parametrize("strings", [False, True])
def test_a_note_60_ms_after_the_last_is_no_double_trigger(strings: bool) -> None:
    """At the very end counts as after it."""
    for again_ms, counts in ((59.96, {DOUBLE: 1}), (60, {})):
        events = (on(0, 64, 1 if strings else None), off(25, 64, 1 if strings else None))
        found, cleaner = cleaned(*events, on(again_ms, 64, 1 if strings else None), strings=strings)
        assert (len(found), cleaner.counts) == (3, counts)


def test_where_strings_are_not_told_apart_a_correction_is_marked() -> None:
    """A note that ended after 25 ms, followed at once by the one a semitone up; not by any other."""
    found, cleaner = cleaned(on(0, 63), off(25, 63), on(25, 64), strings=False)
    assert found[-1] == on(25, 64)._replace(instead_of=63)
    assert cleaner.counts == {SEMITONE_GLITCH: 1}
    for events in ((on(0, 63), off(25, 63), on(25, 67)), (on(0, 63), off(80, 63), on(80, 64))):
        assert cleaned(*events, strings=False)[0] == list(events)


def test_a_note_without_an_end_is_ended() -> None:
    """After twenty seconds no string sounds any more."""
    found, cleaner = cleaned(on(0, 48, 5), on(15_000, 50, 4), end_ms=21_000)
    assert found == [on(0, 48, 5), on(15_000, 50, 4), off(20_000, 48, 5)]
    assert cleaner.counts == {RANG_OVER: 1}
    assert cleaner.feed(off(22_000, 48, 5)) == []


def test_a_profile_may_have_its_own_numbers() -> None:
    """What its own table does not say holds as for all."""
    own = replace(STRINGS, cleaning=(("ghost_ms", 20.0),))
    assert cleaning_rules(own).ghost_ms == 20.0
    assert cleaning_rules(own).ghost_share == cleaning_rules(STRINGS).ghost_share


def test_what_was_set_right_is_said_in_words() -> None:
    """One line for each kind that happened."""
    assert counted_words({GHOST: 14, DOUBLE: 1, SEMITONE_GLITCH: 0}) == (
        "14 ghost notes ignored",
        "1 double trigger ignored",
    )
    assert counted_words({}) == ()


# Laws ------------------------------------------------------------------------------------------------------------


@st.composite
def streams(draw: st.DrawFn, softest: int = 1) -> tuple[list[NoteEvent], bool]:
    """Well-formed notes as the note tracker makes them: on a place, on and off in turn."""
    strings = draw(st.booleans())
    ringing: dict[int, tuple[int, int | None]] = {}
    events: list[NoteEvent] = []
    ms = 0.0
    for gap in draw(st.lists(st.sampled_from([0, 0.04, 5, 20, 44.96, 45, 60, 200, 700]), max_size=25)):
        ms += gap
        pitch, string = draw(st.integers(60, 64)), draw(st.integers(1, 3)) if strings else None
        place = string if string is not None else pitch
        if place in ringing:
            old, its_string = ringing.pop(place)
            events.append(off(ms, old, its_string))
            if draw(st.booleans()):
                continue
        ringing[place] = (pitch, string)
        events.append(on(ms, pitch, string, draw(st.integers(softest, 127))))
    return events, strings


@given(streams(softest=36))
def test_a_clean_stream_passes_unchanged_and_at_once(stream: tuple[list[NoteEvent], bool]) -> None:
    """Notes that are not soft come out of the very call that brought them (corrections with their mark)."""
    events, strings = stream
    cleaner = Cleaner(STRINGS if strings else SINGLE)
    for event in events:
        (found,) = cleaner.feed(event)
        assert (found._replace(instead_of=None) if isinstance(found, NoteOn) else found) == event
    assert cleaner.tick(events[-1].time_s + 0.1 if events else 1e3) == []


@given(streams(), st.lists(st.floats(0, 8), max_size=60))
def test_ticking_changes_nothing_but_when_it_is_said(stream: tuple[list[NoteEvent], bool], ticks: list[float]) -> None:
    """The same notes in the same order, however often time is told."""
    events, strings = stream
    quiet, quiet_cleaner = cleaned(*events, end_ms=9_000, strings=strings)
    busy = Cleaner(STRINGS if strings else SINGLE)
    pending, found = sorted(ticks), []
    for event in events:
        while pending and pending[0] <= event.time_s:
            found += busy.tick(pending.pop(0))
        found += busy.feed(event)
    for now_s in [*(now_s for now_s in pending if not events or now_s > events[-1].time_s), 9.0]:
        found += busy.tick(now_s)
    assert found == quiet
    assert busy.counts == quiet_cleaner.counts


@given(streams())
def test_what_comes_out_is_well_formed_and_accounted_for(stream: tuple[list[NoteEvent], bool]) -> None:
    """On each place on and off in turn; every note-on came out or was counted as a ghost."""
    events, strings = stream
    found, cleaner = cleaned(*events, end_ms=9_000, strings=strings)
    ringing: set[tuple[int | None, int]] = set()
    for event in found:
        place = (event.string, 0 if strings else event.pitch)
        if isinstance(event, NoteOn):
            ringing.add(place)
        else:
            assert place in ringing
            ringing.discard(place)
    ons = sum(isinstance(event, NoteOn) for event in events)
    assert sum(isinstance(event, NoteOn) for event in found) == ons - cleaner.counts[GHOST]


@given(streams(), st.lists(st.floats(0, 8), max_size=40))
def test_strokes_do_not_depend_on_ticks_either(stream: tuple[list[NoteEvent], bool], ticks: list[float]) -> None:
    """Cleaning and gathering in one chain: soft notes that are decided late fall into the same strokes."""
    events, strings = stream
    messages = [
        Message(
            event.time_s,
            (0x90 | (event.string or 1) - 1, event.pitch, event.velocity)
            if isinstance(event, NoteOn)
            else (0x80 | (event.string or 1) - 1, event.pitch, 0),
        )
        for event in events
    ]
    pickup = STRINGS if strings else SINGLE

    def heard(moments: list[float]) -> list[Stroke]:
        ears = Ears(pickup)
        return with_ticks(ears, messages, moments) + ears.flush()

    assert heard(ticks) == heard([])


@pytest.mark.parametrize("name", pickup_names())
def test_six_strings_plucked_at_once_have_no_spread(name: str) -> None:
    """Each note arrives two periods late (24 ms for the low E, 6 for the high one); taken off, all began together."""
    pickup = make_pickup(name)
    notes = [
        NoteOn(on_grid(1 + pickup.delay_s(frequency_hz(pitch))), pitch, 80, 6 - n)
        for n, pitch in enumerate((40, 45, 50, 55, 59, 64))
    ]
    arrived = Stroke(tuple(sorted(notes, key=lambda note: note.time_s)), (), settled=True, closed_s=1.1)
    assert arrived.spread_ms == pytest.approx(18.2, abs=0.1)
    plucked = Plucks(pickup).stroke(arrived)
    assert plucked.spread_ms <= 0.08
    assert plucked.onset_s == pytest.approx(1.0, abs=1e-4)
    assert {note.pitch for note in plucked.struck} == {40, 45, 50, 55, 59, 64}


def test_a_ghost_on_the_heels_of_a_note_does_not_replace_it() -> None:
    """A finger leaves a short note and its open string speaks softly, within the time in which pickups correct
    themselves: a ghost all the same."""
    found, cleaner = cleaned(on(0, 66, 1, 72), off(59, 66, 1), on(59, 64, 1, 5), off(75, 64, 1))
    assert found == [on(0, 66, 1, 72), off(59, 66, 1)]
    assert cleaner.counts == {GHOST: 1}
