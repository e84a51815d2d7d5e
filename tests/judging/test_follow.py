"""Which step a stroke was meant for: repeats, corrections, early notes, broken chords, and the pickup's errors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from by_hand import with_ticks
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.following.pace import Anchor
from listener.guitar.fingering import Fingering
from listener.hearing.cleaning import GHOST, OCTAVE_HIGH
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.take import END, TakeJudge, judge_take
from listener.judging.verdict import HIT, MISS, NEAR
from listener.planning.plan import Plan
from listener.simulation.converter import make_converter
from listener.simulation.player import Player
from listener.simulation.simulated import simulate

#: Without delay, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
STRINGS = replace(make_pickup("per-string"), delay_periods=0.0)
VERSE = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("C", (48, 55, 64))]


def judged(
    plan: Plan, messages: Sequence[Message], anchor: Anchor | None = None, pickup: Pickup = SINGLE
) -> list[tuple[int, int, str]]:
    """Step, attempt and grade of each settled verdict."""
    end = Mark(on_grid(messages[-1].time_s + 30.0), END)
    return [(v.step, v.attempt, v.grade) for v in judge_take(plan, pickup, Take(tuple(messages), (end,)), anchor)]


def hits(count: int) -> list[tuple[int, int, str]]:
    return [(step, 1, HIT) for step in range(count)]


def test_a_chord_struck_again_at_own_pace_is_one_verdict(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Twice or three times, whole or with a string less: no second attempt, and nothing shifts."""
    strokes = [(1.0, VERSE[0][1]), (1.5, VERSE[0][1]), (3.0, VERSE[1][1]), (5.0, VERSE[2][1])]
    strokes += [(5.6, VERSE[2][1]), (6.0, (55, 62)), (7.0, VERSE[3][1])]
    assert judged(make_plan(VERSE), make_messages(strokes, ring_s=0.4)) == hits(4)


def test_a_chord_struck_again_with_the_click_is_one_verdict(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """In its own time, and in the first half of the time that already belongs to the next."""
    strokes = [(10.0, VERSE[0][1]), (10.5, VERSE[0][1]), (11.2, VERSE[0][1]), (12.0, VERSE[1][1]), (14.0, VERSE[2][1])]
    plan = make_plan(VERSE[:3])
    assert judged(plan, make_messages(strokes, ring_s=0.4), Anchor(0, 10.0, 60.0)) == hits(3)


def test_a_wrong_chord_struck_again_stays_one_attempt(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """The same wrong notes once more tell nothing new; the right ones are the second attempt."""
    strokes = [(1.0, (48, 55, 65)), (1.6, (48, 55, 65)), (2.4, VERSE[0][1]), (4.0, VERSE[1][1])]
    found = judged(make_plan(VERSE[:2]), make_messages(strokes, ring_s=0.4))
    assert found == [(0, 1, NEAR), (0, 2, HIT), (1, 1, HIT)]


@pytest.mark.parametrize("anchor", [None, Anchor(0, 10.0, 60.0)])
@pytest.mark.parametrize(("later_s", "attempts"), [(0.19, [(0, 1, HIT)]), (0.45, [(0, 1, NEAR), (0, 2, HIT)])])
def test_a_chord_put_right_at_once_was_right(
    make_plan: Callable[..., Plan], anchor: Anchor | None, later_s: float, attempts: list[tuple[int, int, str]]
) -> None:
    """The finger slides to its fret within 200 ms, the others ring: one attempt. Later it is a second one, and late."""
    if anchor is not None:
        attempts = [(step, attempt, NEAR if attempt > 1 else grade) for step, attempt, grade in attempts]
    plan = make_plan(VERSE[:2])
    ons = [(10.0, 48), (10.004, 55), (10.008, 65), (10.0 + later_s, 64), (12.0, 53), (12.004, 60), (12.008, 69)]
    offs = [(10.0 + later_s, 65), *((11.5, note) for note in (48, 55, 64))]
    messages = [Message(on_grid(t), (0x90, note, 80)) for t, note in ons]
    messages += [Message(on_grid(t), (0x80, note, 0)) for t, note in offs]
    messages.sort(key=lambda message: (message.time_s, message.data[0]))
    assert judged(plan, messages, anchor) == [*attempts, (1, 1, HIT)]


def test_what_may_still_be_put_right_is_said_at_once(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Unsettled when its window closes, settled after a second of silence."""
    judge = TakeJudge(make_plan(VERSE), SINGLE)
    for message in make_messages([(1.0, (48, 55, 65))])[:3]:
        assert judge.feed(message) == []
    early = judge.tick(1.1)
    assert [(v.grade, v.settled) for v in early] == [(NEAR, False)]
    assert judge.tick(1.2) == []
    assert judge.tick(1.9) == []
    assert judge.tick(2.1) == [replace(early[0], settled=True)]


def test_a_slow_rake_is_one_chord(make_plan: Callable[..., Plan]) -> None:
    """The missing top comes 115 ms after the rest: with the target known it belongs to it, and the spread says so."""
    messages = [Message(on_grid(t), (0x90, note, 80)) for t, note in ((1.0, 48), (1.01, 55), (1.125, 64))]
    (verdict,) = judge_take(make_plan(VERSE[:1]), SINGLE, Take(tuple(messages)))
    assert (verdict.grade, verdict.spread_ms) == (HIT, 125.0)


def test_an_early_bass_note_of_the_next_chord_is_no_attempt(make_plan: Callable[..., Plan]) -> None:
    """After its own chord was played: it rings on and counts as held in the chord that it was for."""
    plan = make_plan(VERSE[:2])
    chord = [(10.0, 48), (10.004, 55), (10.008, 64), (10.9, 53), (12.0, 60), (12.004, 69)]
    messages = [Message(on_grid(t), (0x90, note, 80)) for t, note in chord]
    messages += [Message(on_grid(11.5), (0x80, note, 0)) for note in (48, 55, 64)]
    messages.sort(key=lambda message: message.time_s)
    assert judged(plan, messages, Anchor(0, 10.0, 60.0)) == hits(2)


ROUND = [
    ("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("Am", (57, 64, 72)), ("Dm", (50, 57, 65)),
    ("Em", (52, 59, 67)), ("F", (53, 60, 69)),
]  # fmt: skip


def test_after_wrong_chords_the_player_is_found_again(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Two chords left out after a wrong one, and on from there: all that follow are right. And a chord that goes wrong
    twice is the same chord until it is right: nobody goes on before."""
    plan = make_plan(ROUND)
    ahead = [(48, 55, 64), (40, 44, 47), *(notes for _, notes in ROUND[4:])]
    found = judged(plan, make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(ahead)]))
    assert found == [
        (0, 1, HIT), (1, 1, MISS), (2, 1, MISS), (3, 1, MISS), (4, 1, HIT), (5, 1, HIT), (6, 1, HIT)
    ]  # fmt: skip
    back = [(48, 55, 64), (40, 44, 47), (41, 44, 49), *(notes for _, notes in ROUND[1:])]
    found = judged(plan, make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(back)]))
    assert found[:4] == [(0, 1, HIT), (1, 1, MISS), (1, 2, MISS), (1, 3, HIT)]
    assert found[4:] == [(2, 1, HIT), (3, 1, HIT), (4, 1, HIT), (5, 1, HIT), (6, 1, HIT)]


def test_a_near_miss_is_no_chord_left_out(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """A wrong top note that makes the next chord is a wrong top note, also after one chord that went wrong."""
    plan = make_plan([("C", (48, 55, 64)), ("C6", (48, 55, 69)), ("C", (48, 55, 67)), ("F", (53, 60, 69))])
    played = [(48, 55, 65), (48, 55, 67), (48, 55, 67), (53, 60, 69)]
    found = judged(plan, make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(played)]))
    assert found == [(0, 1, NEAR), (1, 1, NEAR), (2, 1, HIT), (3, 1, HIT)]


def test_melody_above_held_tones_every_note_a_step(make_plan: Callable[..., Plan]) -> None:
    """C, E ring on while the top walks: each top note is a hit, and the held tones are named."""
    plan = make_plan([("C", (48, 52, 67)), ("C6", (48, 52, 69)), ("Cmaj7", (48, 52, 71))])
    messages = [Message(on_grid(1 + 0.004 * n), (0x90, note, 80)) for n, note in enumerate((48, 52, 67))]
    for time_s, before, note in ((2.0, 67, 69), (3.0, 69, 71)):
        messages += [Message(time_s, (0x80, before, 0)), Message(on_grid(time_s + 0.001), (0x90, note, 80))]
    verdicts = judge_take(plan, SINGLE, Take(tuple(messages)))
    assert [(v.grade, v.held) for v in verdicts] == [(HIT, ()), (HIT, (48, 52)), (HIT, (48, 52))]


# Broken chords -------------------------------------------------------------------------------------------------------


def rolled(plan: Plan) -> Plan:
    """The same, to be played one note after the other."""
    return replace(plan, drill=replace(plan.drill, arpeggio=True))


def one_by_one(chords: Sequence[Sequence[int]], *, gap_s: float, step_s: float, start_s: float) -> list[Message]:
    """Each chord's notes ``gap_s`` apart, each damped when the chord's time is over."""
    found = []
    for number, notes in enumerate(chords):
        began_s = start_s + number * step_s
        found += [Message(on_grid(began_s + n * gap_s), (0x90, note, 80)) for n, note in enumerate(notes)]
        found += [Message(on_grid(began_s + step_s - 0.02), (0x80, note, 0)) for note in notes]
    return sorted(found, key=lambda message: (message.time_s, message.data[0]))


@pytest.mark.parametrize("anchor", [None, Anchor(0, 10.0, 60.0)])
def test_a_broken_chord_is_judged_as_a_whole(make_plan: Callable[..., Plan], anchor: Anchor | None) -> None:
    """Three notes half a second apart are one hit, announced with the last of them."""
    plan = rolled(make_plan(VERSE))
    messages = one_by_one([notes for _, notes in VERSE], gap_s=0.6, step_s=2.0, start_s=10.0)
    assert judged(plan, messages, anchor) == hits(4)
    judge = TakeJudge(plan, SINGLE, anchor)
    said = [(m.time_s, v.settled) for m in messages for v in judge.feed(m) if v.step == 0 and v.grade == HIT]
    assert said[0] == (pytest.approx(11.2), False)
    assert any(settled for _, settled in said)


@pytest.mark.parametrize(
    ("played", "grade"), [((48, 64), NEAR), ((48, 55, 65), NEAR), ((48, 54, 55, 64), NEAR), ((47, 54, 63), MISS)]
)
def test_a_broken_chord_with_the_click_is_heard_out(
    make_plan: Callable[..., Plan], played: tuple[int, ...], grade: str
) -> None:
    """What is missing, wrong or too much is said when its time is over; the next one is judged as usual."""
    plan = rolled(make_plan(VERSE[:2]))
    messages = one_by_one([played, VERSE[1][1]], gap_s=0.45, step_s=2.0, start_s=10.0)
    assert judged(plan, messages, Anchor(0, 10.0, 60.0)) == [(0, 1, grade), (1, 1, HIT)]


def test_a_pattern_that_goes_up_and_down_is_one_chord(make_plan: Callable[..., Plan]) -> None:
    """Notes struck again within their step change nothing."""
    plan = rolled(make_plan(VERSE[:2]))
    pattern = [(*notes, notes[1]) for _, notes in VERSE[:2]]
    messages = one_by_one(pattern, gap_s=0.4, step_s=2.0, start_s=10.0)
    assert judged(plan, messages, Anchor(0, 10.0, 60.0)) == hits(2)


# The pickup's errors ---------------------------------------------------------------------------------------------


def on_strings(
    make_plan: Callable[..., Plan],
    frets: tuple[int, ...],
    pitches: tuple[int, ...],
    *,
    symbol: str = "C",
    strings: tuple[int, ...] = (5, 4, 2),
) -> Plan:
    """One chord on three strings."""
    plan = make_plan([(symbol, pitches)])
    shape = Fingering(pitches, strings, frets, (3, 4, 1), None, 0.0, 0.0, 20.0)
    return replace(plan, steps=(replace(plan.steps[0], fingering=shape),))


def struck(notes: Sequence[tuple[int, int]], pickup: Pickup) -> tuple[Message, ...]:
    return tuple(
        Message(on_grid(1 + 0.004 * n), (0x90 | pickup.channel_of(string) - 1, pitch, 80))
        for n, (string, pitch) in enumerate(notes)
    )


@pytest.mark.parametrize(
    ("notes", "grade", "octaves"),
    [
        ([(5, 48), (4, 55), (2, 76)], HIT, 1),
        ([(5, 60), (4, 55), (2, 64)], HIT, 1),
        ([(5, 60), (4, 67), (2, 64)], NEAR, 0),
        ([(5, 48), (4, 55), (1, 76)], NEAR, 0),
        ([(5, 48), (2, 76)], NEAR, 1),
    ],
)
def test_an_octave_that_no_hand_could_play_is_the_pickups(
    make_plan: Callable[..., Plan], notes: list[tuple[int, int]], grade: str, octaves: int
) -> None:
    """On its own string: put right and counted, whatever else is wrong. Two of them, or another string: not."""
    judge = TakeJudge(on_strings(make_plan, (3, 5, 5), (48, 55, 64)), STRINGS)
    found = [v for message in struck(notes, STRINGS) for v in judge.feed(message)] + judge.finish()
    assert [v.grade for v in found if v.settled] == [grade]
    assert judge.cleaned[OCTAVE_HIGH] == octaves


def test_an_octave_that_could_be_played_is_believed(make_plan: Callable[..., Plan]) -> None:
    """High on the neck with an open string planned, fret 12 lies under the hand: the player's doing."""
    plan = on_strings(make_plan, (10, 0, 14), (55, 59, 64), symbol="Em", strings=(5, 2, 4))
    judge = TakeJudge(plan, STRINGS)
    messages = struck([(5, 55), (4, 64), (2, 71)], STRINGS)
    found = [v for message in messages for v in judge.feed(message)] + judge.finish()
    assert [v.grade == HIT for v in found if v.settled] == [False]


def test_ghosts_do_not_delay_a_right_chord(make_plan: Callable[..., Plan]) -> None:
    """A soft octave between the notes: the hit still comes at the chord's last note-on, and the ghost is counted."""
    judge = TakeJudge(make_plan(VERSE), SINGLE)
    notes = [(1.0, 0x90, 48, 80), (1.004, 0x90, 60, 15), (1.006, 0x90, 55, 80), (1.01, 0x90, 64, 80)]
    notes += [(1.03, 0x80, 60, 0)]
    found = [judge.feed(Message(on_grid(t), (status, note, loud))) for t, status, note, loud in notes]
    assert [[(v.grade, v.settled) for v in one] for one in found] == [[], [], [], [(HIT, False)], []]
    assert [v.grade for v in judge.tick(2.0)] == [HIT]
    assert judge.cleaned[GHOST] == 1


def test_offsets_count_from_the_pluck(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """A low E arrives two periods late, 24.27 ms; a chord that arrives by so much after the click was on it."""
    plan = make_plan([("E5", (40, 47))])
    messages = [
        Message(on_grid(10.0 + 2 / 82.4069), (0x90, 40, 80)),
        Message(on_grid(10.0 + 2 / 123.4708), (0x90, 47, 80)),
    ]
    messages.sort(key=lambda message: message.time_s)
    (verdict,) = judge_take(plan, make_pickup("single"), Take(tuple(messages)), Anchor(0, 10.0, 60.0))
    assert verdict.offset_ms == pytest.approx(0.0, abs=0.1)
    assert verdict.spread_ms <= 0.08


@settings(max_examples=examples(30), deadline=None)
@given(
    st.integers(0, 10**6),
    st.sampled_from(["single", "per-string"]),
    st.booleans(),
    st.booleans(),
    st.lists(st.floats(0.0, 24.0), max_size=200),
)
def test_live_equals_replay_with_all_errors_on(
    make_plan: Callable[..., Plan], seed: int, name: str, click: bool, arpeggio: bool, ticks: list[float]
) -> None:
    """Slips, repeats, ghosts, glitches, soft notes, bends: however often time is told, the verdicts are the same."""
    plan = make_plan([*VERSE, *VERSE], beats=1.2)
    plan = rolled(plan) if arpeggio else plan
    pickup = make_pickup(name)
    messages = simulate(
        plan,
        seed=seed,
        pickup=pickup,
        tempo=60.0 if click else None,
        first_beat_s=2.0,
        player=Player(repeat_share=0.3, hold_share=0.7, velocity=50.0, velocity_sd=25.0),
        converter=make_converter("hard"),
    ).messages
    anchor = Anchor(0, 2.0, 60.0) if click else None
    end = Mark(on_grid(max(25.0, messages[-1].time_s if messages else 0.0)), END)
    quiet = judge_take(plan, pickup, Take(messages, (end,)), anchor)
    busy = TakeJudge(plan, pickup, anchor)
    found = with_ticks(busy, messages, ticks) + busy.mark(end)
    assert [v for v in found if v.settled] == quiet
