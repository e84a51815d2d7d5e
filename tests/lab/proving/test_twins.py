"""What no listener can tell apart: performances with the same messages that deserve different grades."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from random import Random
from typing import Any

import pytest
from how_many import some

from lab.proving.evaluate import evaluate
from lab.proving.performing import FIRST_BEAT_S, Performance, grades, notes_of, run_evidence, run_truth
from lab.proving.proving import ARPEGGIOS, CHORDS, TUNING_SEEDS, performances
from lab.proving.twins import Twins
from listener.drill.drill_file import load_drill
from listener.following.pace import Anchor
from listener.guitar.grip import grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.judging.take import TakeJudge
from listener.judging.verdict import HIT, NEAR, Verdict
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.simulation.chance import Chance
from listener.simulation.converter import FAULTLESS, Sent, convert, make_converter
from listener.simulation.player import Intent, Pluck

GUITAR = make_instrument()
LARGE = make_hand("large")
SEED = 2_500_001


@pytest.fixture(scope="module")
def plans() -> list[Plan]:
    """Chords of two, three and four notes."""
    names = ("grey-heron", "mill-verse", "the-ropewalk")
    return [plan_drill(load_drill(name), GUITAR, make_hand("medium")) for name in names]


def settled(run: Performance) -> list[Verdict]:
    judge = TakeJudge(run.plan, run.pickup, None if run.tempo is None else Anchor(0, FIRST_BEAT_S, run.tempo))
    found = [verdict for message in run.messages for verdict in judge.feed(message)] + judge.finish()
    return [verdict for verdict in found if verdict.settled]


@pytest.mark.parametrize("name", some(["single", "per-string", "zone"], each=3))
def test_twins_are_the_same_to_every_listener(plans: list[Plan], name: str) -> None:
    """Byte for byte and time for time the same messages, so the same verdicts; but something else was played, it was
    sent as it was played, and a hand can hold it. And no ear is right where a twin deserves another grade."""
    assert SEED in TUNING_SEEDS
    kinds = Counter[tuple[str, str]]()
    for run in performances(
        plans, make_pickup(name), make_converter("hard"), CHORDS + ARPEGGIOS, seed=SEED, strokes=160
    ):
        truth, evidence = run_truth(run), run_evidence(run)
        really, twins = grades(run, truth), Twins(run)
        said = [(verdict.step, verdict.attempt, verdict.grade) for verdict in settled(run)]
        first = {step: grade for step, _, grade in reversed(said)}
        for step in range(len(run.intents)):
            told = notes_of(run, truth[step], step) == notes_of(run, evidence[step], step)
            twin = twins.of(step)
            if told:
                assert twin is None
            if twin is None:
                continue
            other = run_truth(twin.run)
            assert twin.run.messages == run.messages
            assert [(verdict.step, verdict.attempt, verdict.grade) for verdict in settled(twin.run)] == said
            assert notes_of(twin.run, other[step], step) == notes_of(twin.run, evidence[step], step)
            assert notes_of(twin.run, other[step], step) != notes_of(run, truth[step], step)
            assert twin.grade == grades(twin.run, other)[step]
            _can_be_played(twin.run, run, step)
            kinds[really[step], twin.grade] += 1
            if twin.grade != really[step]:
                assert first.get(step, "none") != really[step]
    assert kinds[HIT, NEAR] >= 3


def _can_be_played(twin: Performance, run: Performance, step: int) -> None:
    """One pluck to a string; what was not there before is within reach."""
    own = [pluck for pluck in twin.plucks if pluck.step == step and not pluck.again]
    assert len({pluck.string for pluck in own}) == len(own)
    places = {(pluck.string, pluck.pitch - GUITAR.open_midi[pluck.string - 1]) for pluck in own}
    before = {(p.string, p.pitch - GUITAR.open_midi[p.string - 1]) for p in run.plucks if p.step == step}
    if places and not places <= before:
        assert grip(GUITAR, LARGE, sorted(places)) is not None


# Each kind by hand -----------------------------------------------------------------------------------------------

C_CHORD = [Pluck(5, 48, 80, 2.0, 9.0, 3.0), Pluck(4, 55, 80, 2.01, 9.0, 3.0), Pluck(2, 64, 80, 2.02, 9.0, 3.0)]
C_PLAN = [("C", (48, 55, 64))]
#: A tone, and a bass note to it.
TWO_CHORDS = [("C", (60,)), ("Am", (45, 60))]


@pytest.fixture
def by_hand(make_plan: Callable[..., Plan]) -> Callable[..., Performance]:
    """These plucks through a converter that makes one kind of error at the given rate; the first of many chances in
    which the outcome is as ``wanted``."""

    def make(
        plucks: list[Pluck],
        chords: list[tuple[str, tuple[int, ...]]],
        name: str,
        wanted: Callable[[Sequence[Sent]], bool],
        *,
        held: tuple[tuple[int, int], ...] = (),
        **rates: Any,
    ) -> Performance:
        plan, pickup = replace(make_plan(chords), instrument=GUITAR), make_pickup(name)
        converter = replace(FAULTLESS, **rates)
        intents = tuple(Intent(step, None, held=held if step else ()) for step in range(len(plan.steps)))
        for seed in range(4000):
            random = Random(seed)
            drawn = random.getstate()
            messages, sent = convert(plucks, pickup, random, converter, plan.open_midi)
            if wanted(sent):
                return Performance(
                    "by hand", plan, pickup, None, tuple(plucks), intents, messages, sent, converter, drawn
                )
        raise AssertionError("chance never went that way")

    return make


def pitches(*expected: int | None) -> Callable[[Sequence[Sent]], bool]:
    return lambda sent: [each.pitch for each in sent] == list(expected)


Maker = Callable[..., Performance]


def test_a_note_that_was_never_sent(by_hand: Maker) -> None:
    """The twin left that string out; or all of them."""
    run = by_hand(C_CHORD, C_PLAN, "per-string", pitches(48, None, 64), never_sent=0.3)
    twin = Twins(run).of(0)
    assert twin is not None
    assert twin.run.messages == run.messages
    assert ([pluck.pitch for pluck in twin.run.plucks], twin.grade) == ([48, 64], NEAR)
    silent = Twins(by_hand(C_CHORD, C_PLAN, "single", pitches(None, None, None), never_sent=0.4)).of(0)
    assert silent is not None
    assert (silent.run.messages, silent.run.plucks, silent.grade) == ((), (), "none")


@pytest.mark.parametrize("name", ["single", "per-string"])
def test_a_chord_that_was_sent_an_octave_high(by_hand: Maker, name: str) -> None:
    """The twin played it an octave high on the same strings, a little sooner, for a higher note is known sooner."""
    run = by_hand(C_CHORD, C_PLAN, name, pitches(60, 67, 76), octave_up=0.4)
    twin = Twins(run).of(0)
    assert twin is not None
    assert [(p.string, p.pitch) for p in twin.run.plucks] == [(5, 60), (4, 67), (2, 76)]
    assert all(0 < abs(p.onset_s - q.onset_s) < 0.03 for p, q in zip(twin.run.plucks, run.plucks, strict=True))
    assert (twin.run.messages, twin.grade) == (run.messages, NEAR)


def test_an_octave_that_no_hand_could_play_has_no_twin_where_strings_are_told_apart(by_hand: Maker) -> None:
    """Fret 17 above frets 3 and 5. Where strings are not told apart it can be played elsewhere."""
    assert Twins(by_hand(C_CHORD, C_PLAN, "per-string", pitches(48, 55, 76), octave_up=0.2)).of(0) is None
    run = by_hand(C_CHORD, C_PLAN, "single", pitches(48, 55, 76), octave_up=0.2)
    twin = Twins(run).of(0)
    assert twin is not None
    assert sorted(pluck.pitch for pluck in twin.run.plucks) == [48, 55, 76]
    assert (twin.run.messages, twin.grade) == (run.messages, NEAR)


def test_a_held_tone_that_died_early(by_hand: Maker) -> None:
    """The twin damped it, and so played the next chord without it."""
    plucks = [Pluck(3, 60, 80, 2.0, 9.0, 4.9), Pluck(6, 45, 80, 4.0, 9.0, 4.9, step=1)]
    run = by_hand(plucks, TWO_CHORDS, "per-string", lambda sent: sent[0].off_s < 3.0, held=((3, 60),), dies_early=0.4)
    twin = Twins(run).of(1)
    assert twin is not None
    assert (twin.run.intents[1].held, grades(run, run_truth(run))[1]) == ((), HIT)
    assert (twin.run.messages, twin.grade) == (run.messages, NEAR)
    assert twin.run.plucks[0].end_s < 3.0
    assert Twins(run).of(0) is None


def test_a_tone_that_rang_over(by_hand: Maker) -> None:
    """A slip that the pickup hides: the twin let it ring, and is a hit; the false hit is nobody's fault."""
    plucks = [Pluck(3, 60, 80, 2.0, 9.0, 3.9), Pluck(6, 45, 80, 4.0, 9.0, 4.9, step=1)]
    run = by_hand(plucks, TWO_CHORDS, "per-string", lambda sent: 4.2 < sent[0].off_s < 5, rings_over=0.4)
    twin = Twins(run).of(1)
    assert twin is not None
    assert (twin.run.intents[1].held, twin.grade) == (((3, 60),), HIT)
    assert twin.run.messages == run.messages
    tally = evaluate(run)
    assert (tally.false_hits, tally.twin_hits, tally.twins, tally.told_hits) == (1, 1, 1, 0)


def test_chance_is_as_it_was_before_it_could_be_asked_again() -> None:
    """One stream of numbers, used in the same order, whoever asks."""
    plucks = [*C_CHORD, *(replace(pluck, onset_s=pluck.onset_s + 2, end_s=5.0, step=1) for pluck in C_CHORD)]
    converter = replace(make_converter("typical"), never_sent=0.16, octave_up=0.16, dies_early=0.16, release_ghost=0.16)
    for seed in range(30):
        random, other = Random(seed), Random(seed)
        usual = convert(plucks, make_pickup("zone"), random, converter, GUITAR.open_midi)
        assert convert(plucks, make_pickup("zone"), Chance(other), converter, GUITAR.open_midi) == usual
        assert random.getstate() == other.getstate()


def test_without_errors_there_are_no_twins(plans: list[Plan]) -> None:
    """Everything is told, so everything can be reached."""
    run = next(performances(plans, make_pickup("single"), make_converter("none"), CHORDS, seed=SEED, strokes=20))
    assert all(Twins(run).of(step) is None for step in range(len(run.intents)))
    assert (evaluate(run).twins, evaluate(run).reachable) == (0, 1.0)
