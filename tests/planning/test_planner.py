"""A drill becomes a plan, or a reason."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from how_many import examples

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.drill.manners import COMPING, VOICE_LEADING, Weights, manner
from listener.errors import PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.pitch import parse_pitch
from listener.music.voicing import FULL
from listener.planning.planner import plan_alternatives, plan_drill
from listener.planning.shapes.candidates import candidates

GUITAR, HAND, USUAL = make_instrument(), make_hand(), manner(VOICE_LEADING)
MOVEMENT_ONLY = Weights(movement=1.0)


def drill(*wishes: Wish, weights: Weights = USUAL) -> Drill:
    steps = tuple(
        Step(index, "a passage", index // 2 + 1, 1.0 + 2 * (index % 2), 2.0 * index, 2.0, wish, weights=weights)
        for index, wish in enumerate(wishes)
    )
    return Drill("a-drill", "A drill", "C major", 80.0, (4, 4), steps)


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
    plan = plan_drill(drill(*spread("C", "F", "G", "C"), weights=MOVEMENT_ONLY), GUITAR, HAND)
    assert plan.total_movement == 12
    assert plan.cost == 12.0


def test_each_step_has_its_own_weights() -> None:
    """A drill's weights are those of its steps, and the plan costs what its steps mind."""
    asked = drill(*spread("C", "F"))
    assert asked.weights == (USUAL, USUAL)
    mixed = replace(
        asked, steps=(replace(asked.steps[0], weights=Weights()), replace(asked.steps[1], weights=MOVEMENT_ONLY))
    )
    assert mixed.weights == (Weights(), MOVEMENT_ONLY)
    plan = plan_drill(mixed, GUITAR, HAND)
    assert plan.cost == plan.total_movement == 3.0


def test_a_step_minds_how_voices_lead() -> None:
    """Unless somebody says otherwise."""
    assert Step(0, "p", 1, 1.0, 0.0, 4.0, spread("C")[0]).weights == USUAL


def test_a_top_line_is_kept() -> None:
    """A melody in pitches and degrees lies on top of its chords."""
    melody = [NoteWish(pitch=parse_pitch("E4")), NoteWish(degree="3"), NoteWish(degree="5")]
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
    mirrored = plan_drill(asked, make_instrument(left_handed=True), HAND)
    assert replace(mirrored, instrument=plan.instrument) == plan


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
    impossible = Wish(parse_chord("G"), ("spread",), top=NoteWish(degree="7"))
    with pytest.raises(PlanError) as caught:
        plan_drill(drill(*spread("C", "F", "Am"), impossible), GUITAR, HAND)
    assert caught.value.step == 4
    assert str(caught.value) == (
        "step 4 (bar 2, beat 3): G spread, the 7th on top cannot be played: "
        "the 7th on top is not a tone of G; with the root on top it can be played at fret 3"
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


def tied(asked: Drill, **ties: object) -> Drill:
    """The same drill with every step tied to the one before it."""
    return replace(asked, steps=tuple(replace(step, **ties) for step in asked.steps))  # type: ignore[arg-type]


def test_lines_that_rise_and_fall() -> None:
    """With ``up`` on top and ``down`` below every change widens the voicing."""
    asked = tied(drill(*[Wish(parse_chord("Cmaj7"), ("any",), size=4)] * 4), top_motion="up", bottom_motion="down")
    plan = plan_drill(asked, GUITAR, HAND)
    for before, after in pairwise(plan.steps):
        assert after.voicing.midi[-1] > before.voicing.midi[-1]
        assert after.voicing.midi[0] < before.voicing.midi[0]


def test_keep_the_highest() -> None:
    """``highest`` takes the highest top note that a hand can play of each chord."""
    plan = plan_drill(tied(drill(*spread("C", "F")), top_motion="highest"), GUITAR, HAND)
    for planned in plan.steps:
        tops = {c.voicing.midi[-1] for c in candidates(planned.step.wish, GUITAR, HAND)}
        assert planned.voicing.midi[-1] == max(tops)


def test_held_notes_stay_where_they_are() -> None:
    """The held pitch lies on one string and fret as long as it is held."""
    asked = tied(drill(*[Wish(parse_chord(chord), ("close", "spread")) for chord in ("C", "Am", "C")]), hold=(60,))
    plan = plan_drill(asked, GUITAR, HAND)
    places = {
        (string, fret)
        for planned in plan.steps
        for pitch, string, fret in zip(
            planned.fingering.pitches, planned.fingering.strings, planned.fingering.frets, strict=True
        )
        if pitch == 60
    }
    assert len(places) == 1


def test_a_loop_tells_its_way_back() -> None:
    """The change to the first step is in the total and in the document; without a loop there is none."""
    asked = drill(*spread("C", "F", "G"))
    plan = plan_drill(replace(asked, loop=True), GUITAR, HAND)
    assert plan.way_back == movement(plan.steps[-1].voicing.midi, plan.steps[0].voicing.midi)
    assert plan.way_back is not None
    assert plan.total_movement == sum(s.movement.semitones for s in plan.steps if s.movement) + plan.way_back.semitones
    assert plan.as_json()["way_back"] == plan.way_back.as_json()
    assert plan_drill(asked, GUITAR, HAND).as_json()["way_back"] is None
    assert plan.cost >= plan_drill(asked, GUITAR, HAND).cost


@pytest.mark.parametrize(
    "weights",
    [
        USUAL,
        Weights(travel=0.1, stretch=0.1, strain=5.0, open_gap=1.0),
        Weights(movement=5.0),
        Weights(),
        manner(COMPING),
    ],
    ids=["usual", "the hand", "movement", "nothing", "comping"],
)
@pytest.mark.parametrize("loop", [False, True])
def test_least_movement_is_least(weights: Weights, loop: bool) -> None:
    """Whatever the weights, no plan moves less than the one of least movement: 2 + 1 + 6, and 3 back to the start.

    Those are the pitch-class minima of ``tests/outside/tables/triads_minimal_voice_leading.csv`` (R, L, IV-V, V-I).
    """
    asked = replace(drill(*spread("C", "Am", "F", "G"), weights=weights), loop=loop)
    least = plan_drill(replace(asked, least_movement=True), GUITAR, HAND)
    assert least.total_movement == (12 if loop else 9)
    assert plan_drill(asked, GUITAR, HAND).total_movement >= least.total_movement


def test_alternatives_differ_in_sound() -> None:
    """Sorted, different in what sounds, and the first is the plan."""
    asked = drill(*spread("C", "F", "G", "C"))
    plans = plan_alternatives(asked, GUITAR, HAND, 6)
    assert plans[0] == plan_drill(asked, GUITAR, HAND)
    assert len({tuple(planned.voicing.midi for planned in plan.steps) for plan in plans}) == len(plans) == 6
    assert [plan.cost for plan in plans] == sorted(plan.cost for plan in plans)


def test_as_many_alternatives_as_there_are() -> None:
    """Fewer than asked for when there are no more; asking for none is refused."""
    only = drill(Wish(parse_chord("C"), ("full",), top=NoteWish(pitch=parse_pitch("E4")), size=5, frets=(0, 3)))
    options = plan_drill(only, GUITAR, HAND).options[0]
    assert len(plan_alternatives(only, GUITAR, HAND, 50)) == len(options)
    with pytest.raises(PlanError, match="ask for at least one"):
        plan_alternatives(only, GUITAR, HAND, 0)


def test_transposing_with_a_capo_changes_only_the_sound() -> None:
    """C Am F G without a capo and D Bm G A with one at fret 2 are the same frets, two semitones apart."""
    wide, only = make_hand("200 200 200 200 200 200"), Weights(movement=1.0, open_gap=0.25)

    def low_down(*chords: str) -> Drill:
        return drill(*[replace(wish, frets=(0, 5)) for wish in spread(*chords)], weights=only)

    plain = plan_drill(low_down("C", "Am", "F", "G"), GUITAR, wide)
    raised = plan_drill(low_down("D", "Bm", "G", "A"), make_instrument(capo=2), wide)
    assert raised.cost == plain.cost
    assert [s.voicing.midi for s in raised.steps] == [tuple(n + 2 for n in s.voicing.midi) for s in plain.steps]
    assert [s.fingering.frets for s in raised.steps] == [s.fingering.frets for s in plain.steps]


@pytest.mark.parametrize("up", [1, 3, 5])
def test_transposing_with_the_frets_moves_the_frets_only(up: int) -> None:
    """Everything a few frets higher, the limits too: the same movement, strings and shapes.

    Only movement counts here and any stretch is within reach, for frets lie closer together up the neck; open strings
    are left out, for they do not move.
    """
    wide = make_hand("200 200 200 200 200 200")
    degrees = {"C": 0, "Am": 9, "F": 5, "G": 7}
    names = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]

    def asked(shift: int) -> Drill:
        chords = [names[(pc + shift) % 12] + chord[1:] for chord, pc in degrees.items()]
        return drill(
            *[Wish(parse_chord(c), ("spread",), frets=(4 + shift, 11 + shift), open_strings=False) for c in chords],
            weights=MOVEMENT_ONLY,
        )

    here, there = plan_drill(asked(0), GUITAR, wide), plan_drill(asked(up), GUITAR, wide)
    assert there.cost == here.cost
    assert there.options == tuple(tuple(tuple(n + up for n in p) for p in step) for step in here.options)
    for low, high in zip(here.steps, there.steps, strict=True):
        assert high.voicing.midi == tuple(note + up for note in low.voicing.midi)
        assert high.fingering.strings == low.fingering.strings
        assert high.fingering.frets == tuple(fret + up for fret in low.fingering.frets)


def test_ten_thousand_steps() -> None:
    """A drill of ten thousand steps is planned in one go, loop and all (time and memory: the benchmark tells)."""
    count = examples(10_000)
    chords = ("C", "Am", "F", "G")
    asked = replace(drill(*[Wish(parse_chord(chords[i % 4]), ("close",)) for i in range(count)]), loop=True)
    assert len(plan_drill(asked, GUITAR, HAND).steps) == count


@pytest.mark.parametrize(("top", "bottom"), [("E3", "C5"), ("E4", "E4"), ("E9", "C3")])
def test_contradictory_lines(top: str, bottom: str) -> None:
    """A top note below the bottom note, at it, or off the neck: one line, with what could be played instead."""
    wish = Wish(
        parse_chord("C"),
        ("close", "spread"),
        top=NoteWish(pitch=parse_pitch(top)),
        bottom=NoteWish(pitch=parse_pitch(bottom)),
    )
    with pytest.raises(PlanError, match=f"{top} on top, {bottom} at the bottom cannot be played: .*; ") as caught:
        plan_drill(drill(*spread("F"), wish), GUITAR, HAND)
    assert caught.value.step == 2
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("guitar", "lowest", "advice"),
    [
        (make_instrument(capo=2), "F2", "; without the capo the drill can be played as it stands"),
        (make_instrument("drop D"), "G2", "; in standard tuning the drill can be played as it stands"),
        (make_instrument("drop D", capo=6), "G2", "; in standard tuning the drill can be played as it stands"),
        (GUITAR, "F2", ""),
    ],
)
def test_what_a_capo_or_a_tuning_forbids_is_said(guitar: Instrument, lowest: str, advice: str) -> None:
    """Where the plain guitar could play it, that is the nearest thing; where it could not, nothing is promised."""
    low = Wish(parse_chord(lowest[0]), (FULL,), frets=(0, 3), bottom=NoteWish(pitch=parse_pitch(lowest)))
    asked = drill(low if advice else replace(low, frets=(5, 6)))
    with pytest.raises(PlanError) as caught:
        plan_drill(asked, guitar, HAND)
    text = str(caught.value)
    assert text.endswith(advice) if advice else "as it stands" not in text
