"""The simulated guitarist and pickup: seeded, faithful to the plan, and gathered right by the ears."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from random import Random
from statistics import mean, median, stdev

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.drill.drill import Drill, Step, Wish
from listener.guitar.fingering import Fingering
from listener.hearing import ears
from listener.hearing.events import Message, NoteOff, NoteOn, Stroke, on_grid
from listener.hearing.gathering import window_for
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import Pickup, make_pickup, pickup_names
from listener.music.chord import parse_chord
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.simulation.player import FLAWLESS, Intent, Player, Pluck
from listener.simulation.simulated import SimulatedSource, sent, simulate
from listener.simulation.slips import CLOSED_UP, DROPPED, EXTRA, LATE, OCTAVE, SLIPS, WRONG_TOP, on_neck

TUNING = ("E2", "A2", "D3", "G3", "B3", "E4")
OPEN = (64, 59, 55, 50, 45, 40)
#: Spread triads and two full shapes: symbol, strings low to high, frets.
SHAPES = [
    ("C", (6, 4, 2), (8, 5, 5)),
    ("F", (5, 3, 1), (8, 5, 5)),
    ("G", (6, 4, 2), (3, 0, 0)),
    ("C", (5, 4, 3, 2, 1), (3, 2, 0, 1, 0)),
    ("G", (6, 5, 4, 3, 2, 1), (3, 2, 0, 0, 0, 3)),
    ("Am", (5, 3, 1), (0, 5, 0)),
]


def plan_of(steps: int = 24, beats: float = 2.0, tempo: float = 80.0) -> Plan:
    """The shapes over and over."""
    planned = []
    for index in range(steps):
        symbol, strings, frets = SHAPES[index % len(SHAPES)]
        pitches = tuple(OPEN[string - 1] + fret for string, fret in zip(strings, frets, strict=True))
        chord = parse_chord(symbol)
        step = Step(index, "p", 1, 1.0, index * beats, beats, Wish(chord, ("any",)))
        shape = Fingering(pitches, strings, frets, (0,) * len(strings), None, 0.0, 0.0, None)
        planned.append(PlannedStep(step, voicing_of(chord, pitches), shape, None))
    drill = Drill("d", "D", "C major", tempo, (4, 4), tuple(p.step for p in planned))
    return Plan(drill, tuple(planned), TUNING, 6, 0, "medium", 0.0)


PLAN = plan_of()
SINGLE, STRINGS = make_pickup("single"), make_pickup("per-string")
#: A pickup without delay, so that times at the strings can be seen.
PROMPT = replace(STRINGS, delay_periods=0.0)


def strokes_of(messages: tuple[Message, ...], pickup: Pickup, beat_s: float | None = 1.5) -> list[Stroke]:
    """As the ears hear them."""
    return ears.strokes_of(messages, pickup, window_for(beat_s))


def heard_at(stroke: Stroke, step: int, plan: Plan = PLAN) -> set[int]:
    """Plucked pitches and those held ones that the step wants."""
    return set(stroke.struck_pitches) | set(stroke.held_pitches) & set(plan.steps[step].fingering.pitches)


def test_the_same_seed_plays_the_same() -> None:
    """And another seed does not."""
    first, again, other = (
        simulate(PLAN, seed=seed, pickup=STRINGS, tempo=80.0, first_beat_s=2.0).messages for seed in (7, 7, 8)
    )
    assert first == again
    assert first != other


@settings(max_examples=examples(25))
@given(st.integers(0, 10**6), st.sampled_from(pickup_names()), st.none() | st.floats(50, 140))
def test_messages_are_well_formed(seed: int, pickup_name: str, tempo: float | None) -> None:
    """In order, on the grid, on the pickup's channels, every note ended."""
    pickup = make_pickup(pickup_name)
    messages = simulate(PLAN, seed=seed, pickup=pickup, tempo=tempo, first_beat_s=1.0).messages
    times = [message.time_s for message in messages]
    assert times == sorted(times)
    assert times == [on_grid(time_s) for time_s in times]
    channels = set(pickup.channels)
    assert {(message.data[0] & 0x0F) + 1 for message in messages} <= channels
    tracker = NoteTracker(pickup)
    events = [event for message in messages for event in tracker.feed(message)]
    assert sum(isinstance(event, NoteOn) for event in events) == sum(isinstance(event, NoteOff) for event in events)
    assert all(25 <= event.velocity <= 127 for event in events if isinstance(event, NoteOn))


@pytest.mark.parametrize("pickup", [SINGLE, STRINGS], ids=lambda pickup: pickup.name)
@pytest.mark.parametrize("tempo", [60.0, 80.0, 110.0, None])
def test_a_flawless_player_is_heard_right(pickup: Pickup, tempo: float | None) -> None:
    """20 seeds of 24 chords: every chord is one stroke and sounds what was planned, nothing else was plucked."""
    for seed in range(20):
        messages = simulate(PLAN, seed=seed, pickup=pickup, tempo=tempo, first_beat_s=1.0, player=FLAWLESS).messages
        strokes = strokes_of(messages, pickup, beat_s=None if tempo is None else 120.0 / tempo)
        assert len(strokes) == len(PLAN.steps)
        for index, stroke in enumerate(strokes):
            assert heard_at(stroke, index) == set(PLAN.steps[index].fingering.pitches), (seed, index)


def test_common_tones_are_sometimes_held_and_sometimes_plucked_again() -> None:
    """C to C with an E on top in both: the share that is held is the player's."""
    plan = plan_of()
    plan = replace(
        plan, steps=tuple(replace(plan.steps[i], fingering=plan.steps[3 if i % 2 else 5].fingering) for i in range(24))
    )
    held = Counter()
    for share in (0.0, 1.0):
        player = replace(FLAWLESS, hold_share=share)
        for seed in range(5):
            messages = simulate(plan, seed=seed, pickup=STRINGS, tempo=160.0, first_beat_s=1.0, player=player).messages
            for index, stroke in enumerate(strokes_of(messages, STRINGS)):
                held[share] += len(heard_at(stroke, index, plan) - set(stroke.struck_pitches))
                assert heard_at(stroke, index, plan) == set(plan.steps[index].fingering.pitches)
    assert held[0.0] == 0
    assert held[1.0] >= 25


def _one(slip: str, step: int = 2, seed: int = 1) -> tuple[list[Stroke], tuple[Intent, ...]]:
    run = simulate(
        PLAN,
        seed=seed,
        pickup=STRINGS,
        tempo=60.0,
        first_beat_s=1.0,
        player=replace(FLAWLESS, hold_share=0.0),
        slips={step: slip},
    )
    messages, intents = run.messages, run.intents
    return strokes_of(messages, STRINGS), intents


@pytest.mark.parametrize("slip", SLIPS)
@pytest.mark.parametrize("seed", range(5))
def test_a_slip_happens_where_it_was_asked_for_and_nowhere_else(slip: str, seed: int) -> None:
    """The record says so, and so do the ears."""
    strokes, intents = _one(slip, seed=seed)
    assert [intent.slip for intent in intents] == [slip if index == 2 else None for index in range(24)]
    assert len(strokes) == 24
    for index, stroke in enumerate(strokes):
        right = heard_at(stroke, index) == set(PLAN.steps[index].fingering.pitches)
        assert right == (index != 2 or slip == LATE)


def test_each_slip_is_what_its_name_says() -> None:
    """On a spread G, 43-50-59, in open position."""
    played = {slip: _one(slip)[0][2].struck_pitches for slip in SLIPS}
    assert played[WRONG_TOP][:2] == (43, 50)
    assert 1 <= abs(played[WRONG_TOP][2] - 59) <= 2
    assert len(played[DROPPED]) == 2
    assert set(played[DROPPED]) < {43, 50, 59}
    assert played[CLOSED_UP] == (43, 47, 50)
    assert played[OCTAVE] == (55, 62, 71)
    assert set(played[EXTRA]) > {43, 50, 59}
    assert len(played[EXTRA]) == 4


def test_a_late_chord_is_late_beyond_any_tolerance() -> None:
    """By 130 to 190 ms at the strings, the others within a few standard deviations of 12 ms."""
    player = replace(FLAWLESS, hold_share=0.0)
    run = simulate(PLAN, seed=1, pickup=PROMPT, tempo=60.0, first_beat_s=1.0, player=player, slips={2: LATE})
    messages, intents = run.messages, run.intents
    late = [stroke.onset_s - intent.due_s for stroke, intent in zip(strokes_of(messages, PROMPT), intents, strict=True)]
    assert 0.12 < late[2] < 0.26
    assert all(abs(value) < 0.08 for index, value in enumerate(late) if index != 2)


@pytest.mark.parametrize(
    ("slips", "tempo", "said"),
    [
        ({0: "sneeze"}, 60.0, "no slip 'sneeze'; there are wrong top note"),
        ({0: LATE}, None, "'late' cannot be made at step 1"),
        ({4: EXTRA}, 60.0, "'extra note' cannot be made at step 5"),
    ],
)
def test_a_slip_that_cannot_be_is_refused(slips: dict[int, str], tempo: float | None, said: str) -> None:
    """No such slip; late without a click; one more string than there are."""
    with pytest.raises(ValueError, match=said):
        simulate(PLAN, seed=1, pickup=STRINGS, tempo=tempo, first_beat_s=1.0, slips=slips)


def test_slips_come_at_their_stated_rates() -> None:
    """3,000 chords: each share within four standard errors (some slips cannot be made on some shapes)."""
    plan = plan_of(steps=3000)
    player = Player()
    intents = simulate(plan, seed=5, pickup=STRINGS, tempo=60.0, first_beat_s=1.0, player=player).intents
    counts = Counter(intent.slip for intent in intents)
    for slip in (WRONG_TOP, DROPPED, LATE):
        share = player.slip_shares[slip]
        assert counts[slip] / 3000 == pytest.approx(share, abs=4 * (share * (1 - share) / 3000) ** 0.5)
    for slip in (CLOSED_UP, OCTAVE, EXTRA):
        assert 0 < counts[slip] <= 3000 * player.slip_shares[slip] * 1.6


def test_timing_and_spread_follow_the_stated_numbers() -> None:
    """2,000 plucked triads at the strings: spread with the measured median, timing with the measured deviation."""
    plan = plan_of(steps=2000)
    plan = replace(plan, steps=tuple(replace(step, fingering=plan.steps[0].fingering) for step in plan.steps))
    player = replace(FLAWLESS, hold_share=0.0)
    run = simulate(plan, seed=2, pickup=PROMPT, tempo=60.0, first_beat_s=1.0, player=player)
    messages, intents = run.messages, run.intents
    strokes = strokes_of(messages, PROMPT)
    assert len(strokes) == 2000
    offsets = [1000 * (stroke.onset_s - intent.due_s) for stroke, intent in zip(strokes, intents, strict=True)]
    assert mean(offsets) == pytest.approx(3.0 + 3.0 + 1.2, abs=1.0)  # the player's own, sending, and its half-normal
    assert stdev(offsets) == pytest.approx(12.0, abs=2.0)
    assert median(stroke.spread_ms for stroke in strokes) == pytest.approx(10.1, abs=1.5)


def test_low_strings_are_known_later() -> None:
    """Two periods: the low E 24 ms after the pluck, the high E 6 ms, times 0.85 to 1.25, and 3 ms and more to send."""
    chords = plan_of(steps=400)
    shape = Fingering((40, 64), (6, 1), (0, 0), (0, 0), None, 0.0, 0.0, None)
    chords = replace(chords, steps=tuple(replace(step, fingering=shape) for step in chords.steps))
    player = replace(FLAWLESS, hold_share=0.0, thumb_first_share=0.5)
    messages = simulate(chords, seed=2, pickup=STRINGS, tempo=60.0, first_beat_s=1.0, player=player).messages
    ons: dict[int, list[float]] = {40: [], 64: []}
    for message in messages:
        if message.data[0] & 0xF0 == 0x90:
            ons[message.data[1]].append(message.time_s)
    apart_ms = mean(1000 * (low - high) for low, high in zip(ons[40], ons[64], strict=True))
    assert apart_ms == pytest.approx(1.05 * 18.2, abs=4.0)


@pytest.mark.parametrize("pickup", [SINGLE, STRINGS], ids=lambda pickup: pickup.name)
def test_a_string_ends_its_note_before_the_next(pickup: Pickup) -> None:
    """However late the pickup notices the end: off, then on, at one time if need be."""
    plucks = [Pluck(1, 64, 80, onset_s, 9.0, onset_s + 1.0) for onset_s in (0.0, 0.5, 1.0)]
    for seed in range(20):
        kinds = [message.data[0] & 0xF0 for message in sent(plucks, pickup, Random(seed))]
        assert kinds == [0x90, 0x80, 0x90, 0x80, 0x90, 0x80]


def test_no_chord_seems_held_into_the_next() -> None:
    """Without holding, everything has ended 50 ms before the next chord begins, so nothing is credited by mistake."""
    player = replace(FLAWLESS, hold_share=0.0)
    for tempo in (60.0, 110.0, None):
        messages = simulate(PLAN, seed=4, pickup=STRINGS, tempo=tempo, first_beat_s=1.0, player=player).messages
        assert all(not stroke.held for stroke in strokes_of(messages, STRINGS))


def test_a_capo_raises_the_open_strings() -> None:
    """An extra string at capo 2 sounds a whole tone higher than without."""
    extra = {}
    for capo in (0, 2):
        raised = tuple(
            replace(step, fingering=replace(step.fingering, pitches=tuple(p + capo for p in step.fingering.pitches)))
            for step in PLAN.steps
        )
        plan = replace(PLAN, capo=capo, steps=raised)
        messages = simulate(
            plan, seed=1, pickup=STRINGS, tempo=60.0, first_beat_s=1.0, player=FLAWLESS, slips={0: EXTRA}
        ).messages
        heard = strokes_of(messages, STRINGS)[0].struck_pitches
        extra[capo] = (set(heard) - set(plan.steps[0].fingering.pitches)).pop()
    assert extra[2] == extra[0] + 2


@given(st.lists(st.integers(30, 90), min_size=1, max_size=6, unique=True))
def test_a_chord_is_found_on_the_neck_or_not_at_all(notes: list[int]) -> None:
    """Different strings, lower pitch on the lower string, the right pitch at every fret."""
    pitches = sorted(notes)
    places = on_neck(pitches, OPEN)
    if places is None:
        return
    assert [place[2] for place in places] == pitches
    strings = [place[0] for place in places]
    assert strings == sorted(set(strings), reverse=True)
    assert all(OPEN[string - 1] + fret == pitch and fret >= 0 for string, fret, pitch in places)


# The source ------------------------------------------------------------------------------------------------------


def test_messages_come_when_their_time_has_come() -> None:
    """At or before the clock, each once, in order, on the clock's own scale; finished when all are out."""
    now = [100.0]
    messages = [Message(0.5, (0x90, 60, 1)), Message(0.5, (0x90, 64, 1)), Message(2.0, (0x80, 60, 1))]
    source = SimulatedSource(messages, lambda: now[0], start_s=100.0)
    assert (source.poll(), source.finished) == ([], False)
    now[0] = 100.5
    assert [(m.time_s, m.data[1]) for m in source.poll()] == [(100.5, 60), (100.5, 64)]
    assert source.poll() == []
    now[0] = 200.0
    assert [m.time_s for m in source.poll()] == [102.0]
    assert source.finished


def test_waiting_is_until_the_next_message_at_most() -> None:
    """And needs no real time when the clock needs none."""
    slept: list[float] = []
    source = SimulatedSource([Message(1.0, (0x90, 60, 1))], lambda: 0.75, sleep=slept.append)
    source.wait(0.1)
    source.wait(9.0)
    assert slept == [0.1, 0.25]
    source.close()
    source.wait(3.0)
    assert (slept[-1], source.finished) == (3.0, True)
    SimulatedSource([Message(0.5, (0x90, 60, 1))], lambda: 0.75, sleep=slept.append).wait(1.0)
    assert len(slept) == 3
