"""A drill becomes a plan, or a reason."""

from __future__ import annotations

from itertools import pairwise

import pytest

from listener.errors import PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.pitch import parse_pitch
from listener.planning.candidates import candidates
from listener.planning.drill import Drill, Line, Step, Weights, Wish
from listener.planning.planner import plan_drill

GUITAR, HAND = make_instrument(), make_hand()


def drill(*wishes: Wish, weights: Weights | None = None) -> Drill:
    steps = tuple(
        Step(index, "a passage", index // 2 + 1, 1.0 + 2 * (index % 2), 2.0 * index, 2.0, wish)
        for index, wish in enumerate(wishes)
    )
    return Drill("a-drill", "A drill", "C major", 80.0, (4, 4), steps, weights=weights or Weights())


def spread(*chords: str) -> list[Wish]:
    return [Wish(parse_chord(chord), ("spread",)) for chord in chords]


def test_a_plan_follows_its_drill() -> None:
    """One step for one, in order, each from its own candidates, with the movement between neighbours."""
    asked = drill(*spread("C", "F", "G", "C"))
    plan = plan_drill(asked, GUITAR, HAND)
    assert [planned.step for planned in plan.steps] == list(asked.steps)
    assert plan.tuning == ("E2", "A2", "D3", "G3", "B3", "E4")
    assert (plan.string_count, plan.capo, plan.hand) == (6, 0, "medium")
    for planned in plan.steps:
        pairs = [(c.voicing, c.fingering) for c in candidates(planned.step.wish, GUITAR, HAND)]
        assert (planned.voicing, planned.fingering) in pairs
    assert plan.steps[0].movement is None
    for before, after in pairwise(plan.steps):
        assert after.movement == movement(before.voicing.midi, after.voicing.midi)


def test_options_are_all_that_could_sound() -> None:
    """Every step keeps the distinct pitch sets of its candidates; equal steps share them."""
    plan = plan_drill(drill(*spread("C", "F", "C")), GUITAR, HAND)
    for planned, options in zip(plan.steps, plan.options, strict=True):
        sets = {c.fingering.pitches for c in candidates(planned.step.wish, GUITAR, HAND)}
        assert options == tuple(sorted(sets))
        assert planned.voicing.midi in options
    assert plan.options[0] is plan.options[2]


def test_movement_alone_reaches_the_minimum() -> None:
    """With movement as the only cost, C F G C in spread triads moves 3 + 6 + 3 (the pitch-class minima)."""
    only = Weights(movement=1.0, travel=0.0, stretch=0.0, strain=0.0, open_gap=0.0)
    plan = plan_drill(drill(*spread("C", "F", "G", "C"), weights=only), GUITAR, HAND)
    assert plan.total_movement == 12
    assert plan.cost == 12.0


def test_a_top_line_is_kept() -> None:
    """A melody in pitches and degrees lies on top of its chords."""
    melody = [Line(pitch=parse_pitch("E4")), Line(degree="3"), Line(degree="5")]
    wishes = [
        Wish(parse_chord(chord), ("spread", "close"), top=line) for chord, line in zip("CFG", melody, strict=True)
    ]
    plan = plan_drill(drill(*wishes), GUITAR, HAND)
    assert [planned.voicing.degrees[-1] for planned in plan.steps] == ["3", "3", "5"]
    assert str(plan.steps[0].voicing.top) == "E4"


def test_the_same_plan_twice() -> None:
    """Planning is deterministic, and a left-handed neck changes nothing but the drawing."""
    asked = drill(*spread("C", "Am", "F", "G"))
    plan = plan_drill(asked, GUITAR, HAND)
    assert plan_drill(asked, GUITAR, HAND) == plan
    assert plan_drill(asked, make_instrument(left_handed=True), HAND) == plan


def test_a_capo_transposes_the_shapes() -> None:
    """The shapes of C F G with a capo at 2 sound D G A."""
    low = tuple(Wish(parse_chord(chord), ("full",), frets=(0, 4), inversion=0) for chord in "CFG")
    high = tuple(Wish(parse_chord(chord), ("full",), frets=(0, 4), inversion=0) for chord in "DGA")
    everywhere = make_hand("120 150 170 120 150 120")
    plain = plan_drill(drill(*low), GUITAR, everywhere)
    raised = plan_drill(drill(*high), make_instrument(capo=2), everywhere)
    for below, above in zip(plain.options, raised.options, strict=True):
        assert above == tuple(tuple(note + 2 for note in pitches) for pitches in below)
    assert raised.capo == 2


def test_other_instruments() -> None:
    """Four strings or eight: the planner asks only what the instrument has."""
    for tuning, count in (("ukulele", 4), ("eight string", 8)):
        plan = plan_drill(drill(Wish(parse_chord("C"), ("close",))), make_instrument(tuning), HAND)
        assert plan.string_count == count


def test_the_plan_as_json() -> None:
    """The contract's fields hold plain values, parallel from low to high."""
    step = plan_drill(drill(*spread("C", "F")), GUITAR, HAND).as_json()["steps"]
    assert isinstance(step, list)
    for entry in step:
        assert len({len(entry[name]) for name in ("pitches", "names", "degrees", "strings", "frets", "fingers")}) == 1
    assert step[0]["movement"] is None
    assert set(step[1]["movement"]) >= {"semitones", "voices", "common", "largest"}


def test_the_blame_names_the_step() -> None:
    """Step, bar, beat, wish and reason stand in one line."""
    impossible = Wish(parse_chord("G"), ("spread",), top=Line(degree="7"))
    with pytest.raises(PlanError) as caught:
        plan_drill(drill(*spread("C", "F", "Am"), impossible), GUITAR, HAND)
    assert caught.value.step == 4
    assert str(caught.value) == (
        "step 4 (bar 2, beat 3): G spread, the 7th on top cannot be played: "
        "the 7th on top is no tone of G; with the root on top it can be played at fret 3"
    )


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (Wish(parse_chord("C"), ("spread",), strings=(7,)), "strings 7 cannot be played: there is no string 7"),
        (Wish(parse_chord("C"), ("spread",), frets=(9, 5)), "frets 9 to 5 are the wrong way round"),
        (
            Wish(parse_chord("C7"), ("close",), without=("3",)),
            "without 3 cannot be played: C7 without its 3 is another",
        ),
        (Wish(parse_chord("C"), ("crunchy",)), "C crunchy cannot be played: 'crunchy' voicings cannot be built"),
        (Wish(parse_chord("C"), ("spread",), inversion=7), "C spread, inversion 7 cannot be played: C has 3 tones"),
    ],
)
def test_bad_wishes_are_blamed_too(wish: Wish, words: str) -> None:
    """What the instrument or the chord refuses is told with its step."""
    with pytest.raises(PlanError, match=words) as caught:
        plan_drill(drill(*spread("C"), wish), GUITAR, HAND)
    assert caught.value.step == 2
    assert "\n" not in str(caught.value)


def test_a_drill_without_steps() -> None:
    """There is nothing to plan, and the drill is named."""
    with pytest.raises(PlanError, match="a-drill: there is nothing to plan"):
        plan_drill(drill(), GUITAR, HAND)
