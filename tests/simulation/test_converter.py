"""The simulated converter makes its errors at its stated rates, and nothing else."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.hearing.events import Message, NoteOff, NoteOn, on_grid
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import Pickup, make_pickup, pickup_names
from listener.simulation.converter import (
    ARTEFACTS,
    ATTACK_GHOST,
    DIES_EARLY,
    DOUBLE_TRIGGER,
    FAULTLESS,
    NEVER_SENT,
    OCTAVE_UP,
    RINGS_OVER,
    SEMITONE_GLITCH,
    Converter,
    convert,
    make_converter,
)
from listener.simulation.player import Pluck

OPEN = (64, 59, 55, 50, 45, 40)
STRINGS, SINGLE = make_pickup("per-string"), make_pickup("single")


def plucks(count: int, gap_s: float = 1.0) -> list[Pluck]:
    """One string after the other, third fret, damped after 0.7 s."""
    return [Pluck(1 + n % 6, OPEN[n % 6] + 3, 80, 1 + n * gap_s, 9e9, 1.7 + n * gap_s) for n in range(count)]


def converted(pickup: Pickup, converter: Converter, count: int = 4000, seed: int = 1) -> tuple[list[Message], list]:
    messages, sent = convert(plucks(count), pickup, Random(seed), converter, OPEN)
    return list(messages), list(sent)


@pytest.mark.parametrize(("name", "factor"), [("typical", 1), ("hard", 3)])
def test_errors_come_at_their_rates(name: str, factor: int) -> None:
    """4,000 plucks: each share within four standard errors; exclusive ones follow the earlier ones' leftovers."""
    usual, (_, sent) = Converter(), converted(STRINGS, make_converter(name))
    counts = Counter(kind for one in sent for kind in one.artefacts)
    shares = {
        NEVER_SENT: usual.never_sent, OCTAVE_UP: usual.octave_up, ATTACK_GHOST: usual.attack_ghost,
        SEMITONE_GLITCH: usual.semitone_glitch, DOUBLE_TRIGGER: usual.double_trigger, DIES_EARLY: usual.dies_early,
        RINGS_OVER: usual.rings_over,
    }  # fmt: skip
    left = 1.0
    for kind, share in shares.items():
        expected = factor * share * (left if kind not in (DIES_EARLY, RINGS_OVER) else 1 - factor * usual.never_sent)
        tolerance = 4 * (expected * (1 - expected) / 4000) ** 0.5
        assert counts[kind] / 4000 == pytest.approx(expected, abs=tolerance), kind
        if kind not in (DIES_EARLY, RINGS_OVER):
            left *= 1 - factor * share


def test_ghosts_come_at_their_rates_and_are_soft_and_short() -> None:
    """Notes of no pluck: 2 % of neighbours answer (half the outer strings' are off the neck), 3 % of strings when let
    go; all at most 40 ms long and at most 30 loud."""
    only = {name: 0.0 for name in ("attack_ghost", "double_trigger", "semitone_glitch", "octave_up", "never_sent")}
    converter = Converter(**only, dies_early=0.0, rings_over=0.0, bends_per_s=0.0)
    messages, _ = converted(STRINGS, converter)
    began: dict[int, tuple[float, int, int]] = {}
    ghosts = 0
    for message in messages:
        status, pitch, velocity = message.data
        if status & 0xF0 == 0x90:
            began[status & 0x0F] = (message.time_s, pitch, velocity)
        else:
            start_s, _, loud = began.pop(status & 0x0F)
            if message.time_s - start_s < 0.2:
                ghosts += 1
                assert message.time_s - start_s <= 0.0401
                assert loud <= 30
    expected = 4000 * (0.03 + 0.02 * 5 / 6)
    assert ghosts == pytest.approx(expected, abs=4 * expected**0.5)


def test_without_errors_every_pluck_is_one_note() -> None:
    """Delays alone are left."""
    messages, sent = converted(SINGLE, FAULTLESS, 300)
    assert len(messages) == 600
    assert all(one.artefacts == () for one in sent)
    assert [one.pitch for one in sent] == [pluck.pitch for pluck in plucks(300)]


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(pickup_names()), st.sampled_from(["typical", "hard"]))
def test_whatever_goes_wrong_the_stream_is_well_formed(seed: int, name: str, errors: str) -> None:
    """In order, on the grid, on the profile's channels, every note ended, and the same again for the same seed."""
    pickup = make_pickup(name)
    messages, _ = converted(pickup, make_converter(errors), 120, seed)
    times = [message.time_s for message in messages]
    assert times == sorted(times)
    assert times == [on_grid(time_s) for time_s in times]
    assert {(message.data[0] & 0x0F) + 1 for message in messages} <= set(pickup.channels)
    tracker = NoteTracker(pickup)
    events = [event for message in messages for event in tracker.feed(message)]
    ons, offs = (sum(isinstance(event, kind) for event in events) for kind in (NoteOn, NoteOff))
    assert ons == offs
    assert messages == converted(pickup, make_converter(errors), 120, seed)[0]


def test_bends_stay_within_the_note() -> None:
    """Wander and slides of less than half a semitone: the notes that are heard are the notes that were sent."""
    converter = Converter(
        attack_ghost=0, sympathetic_ghost=0, release_ghost=0, double_trigger=0, semitone_glitch=0, octave_up=0,
        never_sent=0, dies_early=0, rings_over=0,
    )  # fmt: skip
    messages, _ = converted(STRINGS, converter, 300)
    bends = [message for message in messages if message.data[0] & 0xF0 == 0xE0]
    assert len(bends) == pytest.approx(300 * 0.7 * 34, rel=0.15)
    tracker = NoteTracker(STRINGS)
    heard = [event.pitch for message in messages for event in tracker.feed(message) if isinstance(event, NoteOn)]
    assert heard == [pluck.pitch for pluck in plucks(300)]


def test_an_unknown_degree_is_refused() -> None:
    """With what there is."""
    with pytest.raises(SourceError, match="choose one of none, typical, hard"):
        make_converter("impossible")
    assert len(set(ARTEFACTS)) == 9
