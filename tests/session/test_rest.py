"""Rest reminders."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from listener.planning.plan import Plan, PlannedStep
from listener.session.rest import EARLIEST_S, LATEST_S, RESTED_S, USUAL_S, Load, rest_after


@pytest.fixture
def chord(make_plan: Callable[..., Plan]) -> PlannedStep:
    return make_plan([("C", (48, 55, 64))]).steps[0]


def played(load: Load, chord: PlannedStep, minutes: float, every_s: float = 4.0) -> Load:
    now = load.last_s or 0.0
    for _ in range(round(minutes * 60 / every_s)):
        now += every_s
        load = load.played(chord.fingering.strain, now)
    return load


def test_after_twenty_five_minutes(chord: PlannedStep) -> None:
    """Easy chords for 24 minutes are fine, after 25 a rest is due."""
    assert not played(Load(), chord, 24).due
    assert played(Load(), chord, 25.1).due


def test_wide_stretches_make_it_sooner(chord: PlannedStep) -> None:
    """At the hand's limit all the time a rest is due in two thirds of the time; at half the reach nothing changes."""
    limit = replace(chord, fingering=replace(chord.fingering, strain=1.0))
    half = replace(chord, fingering=replace(chord.fingering, strain=0.5))
    assert played(Load(), limit, 17).due
    assert not played(Load(), limit, 16).due
    assert not played(Load(), half, 24).due


def test_a_rest_of_five_minutes_starts_anew(chord: PlannedStep) -> None:
    """After a real pause the count begins at nothing; after a short one it goes on."""
    tired = played(Load(), chord, 20)
    assert tired.last_s is not None
    assert tired.played(0.2, tired.last_s + RESTED_S).used == 0.0
    assert tired.played(0.2, tired.last_s + 60).used >= tired.used


def test_waiting_is_not_playing(chord: PlannedStep) -> None:
    """Four minutes without a chord count as ten seconds."""
    load = Load().played(0.2, 0.0).played(0.2, 240.0)
    assert load.playing_s == 10.0


def test_the_chord_in_the_hand_is_what_stretches() -> None:
    """Eight seconds on a chord at half the reach and two on one at a quarter: 4 and 0.5, whatever comes after."""
    load = Load().played(0.5, 0.0).played(0.25, 8.0).played(1.0, 10.0)
    assert (load.playing_s, load.stretch_s) == (10.0, 4.5)


def test_it_cannot_be_switched_off() -> None:
    """The choice is between five minutes and an hour."""
    assert rest_after(0) == EARLIEST_S
    assert rest_after(10_000) == LATEST_S
    assert rest_after(25) == USUAL_S
