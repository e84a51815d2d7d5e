"""Patterns in drill files: they reach the steps, and the planner takes shapes on which they sound the whole chord."""

from __future__ import annotations

from fractions import Fraction

import pytest

from listener.drill.drill import Drill
from listener.drill.drill_file import read_drill
from listener.errors import DrillError, PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

GUITAR, HAND = make_instrument("standard"), make_hand("medium")


def drill(passage: str, head: str = "") -> Drill:
    return read_drill(f'title = "T"\nkey = "C major"\n{head}\n[[passage]]\n{passage}', "t")


def planned(passage: str, head: str = "") -> Plan:
    return plan_drill(drill(passage, head), GUITAR, HAND)


def test_a_drill_without_a_pattern_accepts_any() -> None:
    """The field may be missing: steps then have none."""
    steps = drill('chords = "C | F"').steps
    assert [step.pattern for step in steps] == [None, None]
    assert steps[0].placed == ()


def test_each_passage_has_its_own() -> None:
    """As a table or in one line; eighths over the bar where nothing else is said."""
    found = drill(
        'chords = "C"\n[passage.pattern]\nstrum = "d . d u"\nplace = "1/16"\nover = "chord"\nswing = 0.67\n'
        '[[passage]]\nchords = "F"\npattern = { pick = "p i m" }\n[[passage]]\nchords = "G"'
    ).steps
    first, second = found[0].pattern, found[1].pattern
    assert first is not None
    assert second is not None
    assert (str(first), first.place, first.over, first.swing) == ("d . d u", Fraction(1, 16), "chord", Fraction(2, 3))
    assert (str(second), second.place, second.over, second.swing) == ("p i m", Fraction(1, 8), "bar", Fraction(1, 2))
    assert found[2].pattern is None


def test_places_of_a_step() -> None:
    """A chord on the second half of a bar has the second half of the pattern."""
    step = drill('chords = "C G"\npattern = { strum = "d . d u d u d u" }').steps[1]
    assert [str(one.place) for one in step.placed] == ["d", "u", "d", "u"]
    assert step.placed[0].counted == "3"


def test_contrast_has_one_for_each_side() -> None:
    """What stands in the tables goes before what the passage says."""
    steps = drill(
        'exercise = "contrast"\nnumerals = "I"\npattern = { strum = "d" }\n'
        '[passage.quiet]\npattern = { pick = "1 2 3" }'
    ).steps
    assert [str(step.pattern) for step in steps] == ["1 2 3", "d"]


def test_through_the_keys() -> None:
    """The pattern goes with the passage through all keys."""
    steps = drill('numerals = "I | V"\nkeys = ["C", "F"]\npattern = { strum = "d u" }').steps
    assert [str(step.pattern) for step in steps] == ["d u"] * 4


def test_compound_time() -> None:
    """Six eighths fill a bar of 6/8, seven do not fit."""
    assert drill('chords = "C"\npattern = { strum = "d u d u d u" }', 'meter = "6/8"').steps[0].pattern is not None
    with pytest.raises(DrillError, match=r"line 6: 'strum' has 7 places of 1/8, and a bar of 6/8 has room for 6"):
        drill('chords = "C"\npattern = { strum = "d u d u d u d" }', 'meter = "6/8"')


def test_thousands_of_places() -> None:
    """Refused in one short line, at once."""
    with pytest.raises(DrillError) as caught:
        drill(f'chords = "C"\npattern = {{ strum = "{"d u " * 5000}" }}')
    assert str(caught.value).endswith("'strum' has more than 500 places; no bar has so many")


def test_the_planner_takes_shapes_with_enough_voices() -> None:
    """Where any spacing will do, a pattern of four voices gets chords of four."""
    plan = planned('chords = "Am7 | Dm7"\npattern = { pick = "p i m a" }')
    assert {len(one.voicing.midi) for one in plan.steps} == {4}
    assert plan.steps[0].as_json()["pattern"] == {"pick": "p i m a", "place": "1/8", "over": "bar", "swing": 0.5}


def test_strums_go_with_every_shape() -> None:
    """They change nothing in the plan."""
    with_it = planned('chords = "C | F | G"\nkind = "full"\npattern = { strum = "d u" }')
    without = planned('chords = "C | F | G"\nkind = "full"')
    assert [one.fingering for one in with_it.steps] == [one.fingering for one in without.steps]


@pytest.mark.parametrize(
    ("passage", "said"),
    [
        (
            'chords = "C | G"\nkind = "spread"\npattern = { pick = "1 4 2 3" }',
            "step 1 (bar 1, beat 1): C spread cannot be played: its pattern needs 4 voices, and this has 3; "
            "pick fewer, or ask for more voices",
        ),
        (
            'chords = "C | G"\nkind = "spread"\npattern = { pick = "p i m a" }',
            "its pattern needs 4 voices, and this has 3",
        ),
        (
            'chords = "Am7"\nkind = "drop 2"\npattern = { pick = "1 3 4 3" }',
            "its pattern never picks voice 2 of 4 while the chord is due; pick it too (several at once as 1+2), "
            "or ask for fewer voices",
        ),
        (
            'chords = "C"\nkind = "spread"\npattern = { pick = "2 3 2 3" }',
            "its pattern never picks voice 1 of 3 while the chord is due; pick it too (several at once as 1+2)",
        ),
        (
            'chords = "C G"\nkind = "spread"\npattern = { pick = "1 2 3 2 1 2 1 2" }',
            "step 2 (bar 1, beat 3): G spread cannot be played: its pattern never picks voice 3 of 3",
        ),
        (
            'chords = "Am7"\nkind = "drop 2"\nstrictness = "same chord"\npattern = { pick = "1 2" }',
            "the voices that its pattern picks leave out a tone of the chord; pick more of them",
        ),
    ],
)
def test_what_cannot_sound_the_chord_is_told_with_its_step(passage: str, said: str) -> None:
    """One line: which step, what is missing, what to try."""
    with pytest.raises(PlanError) as caught:
        planned(passage)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_where_any_voicing_is_right_the_tones_are_enough() -> None:
    """A big shape is picked on four of its strings, as is usual, when these have all tones of the chord."""
    plan = planned(
        'chords = "C | G"\nkind = "full"\nstrictness = "same chord"\nvoices = 5\npattern = { pick = "p i m a" }'
    )
    for one in plan.steps:
        assert one.step.pattern is not None
        picked = {rank for place in one.step.pattern.places for rank in one.step.pattern.voices(place, 5)}
        assert {one.voicing.midi[rank] % 12 for rank in picked} == {note % 12 for note in one.voicing.midi}
        assert len(picked) == 4


def test_the_same_chord_may_be_picked_and_strummed() -> None:
    """What a pattern sounds whole counts for its own passage alone, whichever comes first."""
    free, picked = 'chords = "Am7"\nkind = "any"', 'chords = "Am7"\nkind = "any"\npattern = { pick = "1 2 3" }'
    for passages in ((free, picked), (picked, free)):
        plan = planned("\n[[passage]]\n".join(passages))
        for one, options in zip(plan.steps, plan.options, strict=True):
            sizes = {len(notes) for notes in options}
            assert sizes == ({3} if one.step.pattern else {3, 4})
