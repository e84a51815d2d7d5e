"""How long notes ring, as the judge is told: what the messages say, put right like the notes themselves."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import pytest
from by_hand import with_ticks
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.ears import Ears
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.plucks import Plucks
from listener.hearing.rings import MOST, Ring, Rings
from listener.music.pitch import frequency_hz

ON, OFF = 0x90, 0x80


def rings_of(messages: Sequence[tuple[float, int, int, int]], profile: str = "per-string") -> list[Ring]:
    """Of messages (time, status, note, velocity)."""
    rings = Rings(Plucks(make_pickup(profile)))
    ears = Ears(make_pickup(profile), as_they_grow=True, rings=rings)
    for time_s, *data in messages:
        ears.feed(Message(on_grid(time_s), tuple(data)))
    return rings.read(rings.taken(0.0), None)


def delay_s(pitch: int) -> float:
    return make_pickup("single").delay_s(frequency_hz(pitch))


def test_from_pluck_to_end() -> None:
    """The onset is the pluck's, before the note-on arrived; the end is when the pickup said so, or still to come."""
    one, two = rings_of([(1.0, ON, 64, 80), (1.1, ON | 1, 59, 70), (1.8, OFF, 64, 0)])
    assert (one.pitch, one.velocity, one.string, one.end_s) == (64, 80, 1, 1.8)
    assert one.onset_s == pytest.approx(1.0 - delay_s(64), abs=5e-5)
    assert (two.pitch, two.string, two.end_s) == (59, 2, inf)


def test_a_string_plucked_again_ends_the_note_before() -> None:
    """At that moment, whether a note-off came or not."""
    found = rings_of([(1.0, ON, 64, 80), (2.0, ON, 65, 80), (3.0, ON, 65, 90), (3.5, OFF, 65, 0)])
    assert [(one.pitch, one.end_s) for one in found] == [(64, 2.0), (65, 3.0), (65, 3.5)]


def test_a_string_of_the_next_chord_is_none_of_this_one() -> None:
    """What is struck when the chord changes, be it the same tone, belongs to the one that begins."""
    rings = Rings(Plucks(make_pickup("per-string")))
    ears = Ears(make_pickup("per-string"), as_they_grow=True, rings=rings)
    for time_s in (1.0, 2.0):
        ears.feed(Message(on_grid(time_s), (ON, 64, 80)))
    first, second = rings.read(rings.taken(0.0), None)
    assert rings.read(rings.taken(0.0), second.onset_s) == [first]


def test_a_double_trigger_is_one_note() -> None:
    """Ended and begun again within a moment, it rings on from its first onset, as loud as the louder one."""
    found = rings_of([(1.0, ON, 64, 60), (1.03, OFF, 64, 0), (1.04, ON, 64, 90), (2.0, OFF, 64, 0)])
    assert [(one.velocity, one.end_s) for one in found] == [(90, 2.0)]
    still = rings_of([(1.0, ON, 64, 60), (1.03, OFF, 64, 0), (1.04, ON, 64, 90)])
    assert [one.end_s for one in still] == [inf]
    assert found[0].onset_s == pytest.approx(1.0 - delay_s(64), abs=5e-5)


@pytest.mark.parametrize("profile", ["single", "per-string"])
def test_a_glitch_is_the_note_that_it_became(profile: str) -> None:
    """Another pitch for a moment first: one note, with the pitch that stayed."""
    found = rings_of([(1.0, ON, 76, 80), (1.02, OFF, 76, 0), (1.021, ON, 64, 80), (2.0, OFF, 64, 0)], profile)
    assert [(one.pitch, one.end_s) for one in found] == [(64, 2.0)]


def test_a_ghost_never_rang() -> None:
    """It is soft and gone at once; a soft note that stays rings from its own onset."""
    found = rings_of([(1.0, ON, 64, 100), (1.01, ON | 1, 71, 10), (1.03, OFF | 1, 71, 0), (1.5, ON | 2, 55, 12)])
    assert [one.pitch for one in found] == [64]
    later = rings_of([(1.0, ON, 64, 100), (1.5, ON | 2, 55, 12), (1.9, OFF | 2, 55, 0)])
    assert [(one.pitch, one.end_s) for one in later] == [(64, inf), (55, 1.9)]
    assert later[1].onset_s == pytest.approx(1.5 - delay_s(55), abs=5e-5)


def test_only_so_much_is_kept() -> None:
    """What had ended when the last chord was left is gone, and of a chord that is strummed for ever the newest."""
    rings, every = Rings(Plucks(make_pickup("per-string"))), Rings(Plucks(make_pickup("per-string")), None)
    ears, others = (Ears(make_pickup("per-string"), as_they_grow=True, rings=one) for one in (rings, every))
    for number in range(MOST + 100):
        ears.feed(Message(on_grid(number * 0.1), (ON, 64, 80)))
        others.feed(Message(on_grid(number * 0.1), (ON, 64, 80)))
    assert len(rings.taken(5.0)) == MOST
    assert len(rings.taken(60.0)) == MOST
    newest = rings.read(rings.taken(0.0), None)
    assert 10 < len(newest) < 20
    assert all(one.end_s >= 60.0 for one in newest)
    assert len(every.taken(5.0)) == MOST + 100


@given(
    st.lists(st.tuples(st.integers(0, 4000), st.sampled_from([ON, OFF]), st.integers(55, 60), st.integers(20, 127))),
    st.lists(st.floats(0, 5), max_size=20),
)
def test_ticks_change_nothing(notes: list[tuple[int, int, int, int]], ticks: list[float]) -> None:
    """However often the ears are told the time; no note ends before it begins."""
    messages = [Message(on_grid(ms / 1000), (kind, note, velocity)) for ms, kind, note, velocity in sorted(notes)]
    pickup = make_pickup("single")
    told, quiet = Rings(Plucks(pickup)), Rings(Plucks(pickup))
    with_ticks(Ears(pickup, as_they_grow=True, rings=told), messages, [*ticks, 6.0])
    with_ticks(Ears(pickup, as_they_grow=True, rings=quiet), messages, [6.0])
    found = told.read(told.taken(0.0), None)
    assert found == quiet.read(quiet.taken(0.0), None)
    assert all(one.onset_s <= one.end_s for one in found)
