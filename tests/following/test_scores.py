"""How well notes fit a step: tones are cheap, slips dearer, anything else dearest; tables agree with the steps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.following.scores import Scores, Wanted

C = Wanted((48, 55, 64))
F = Wanted((53, 60, 69))
ANY_C = Wanted((48, 55, 64), any_octave=True)
DRILL = [C, F, C]
NOTES = st.sets(st.integers(40, 84), min_size=1, max_size=5).map(lambda notes: tuple(sorted(notes)))


def at(struck: tuple[int, ...], wanted: Wanted = C) -> int:
    """What it costs at a step that wants this."""
    return int(Scores([wanted]).fit(struck, ()).at[0])


def test_a_tone_costs_less_than_a_slip_and_a_slip_less_than_anything() -> None:
    """A tone; a fret or two beside one; an octave away; three frets; anywhere."""
    tone, beside, octave, three, anywhere = (at((note,)) for note in (64, 65, 76, 61, 59))
    assert tone < beside < octave <= three < anywhere
    assert at((63,)) == at((62,)) == beside


def test_every_tone_costs_the_same_and_few_tones_less_than_many() -> None:
    """Each has its share of the chord's chance."""
    assert at((48,)) == at((55,)) == at((64,))
    assert at((48,), Wanted((48, 55))) < at((48,))


def test_where_any_voicing_will_do_every_octave_is_a_tone() -> None:
    """The planned one is the likeliest still; an added tone is no slip."""
    assert at((64,), ANY_C) < at((76,), ANY_C) == at((60,), ANY_C) < at((65,), ANY_C)
    ninth = Wanted((48, 55, 64), any_octave=True, also=(2,))
    assert at((62,), ninth) < at((62,), ANY_C)


def test_a_wrong_attempt_is_cheaper_than_the_step_where_little_is_right() -> None:
    """And dearer where all of it is."""
    scores = Scores(DRILL)
    right, wild = scores.fit(C.pitches, ()), scores.fit((41, 46, 51), ())
    assert right.at[0] < right.wrong[0]
    assert wild.wrong[0] < wild.at[0]
    moved = scores.fit((49, 56, 65), ())
    assert moved.wrong[0] < moved.at[0]


def test_another_chord_of_the_drill_is_a_likelier_mistake_than_any() -> None:
    """F in the place of C, beside something as far from both."""
    scores = Scores(DRILL)
    assert scores.fit(F.pitches, ()).wrong[0] < scores.fit((41, 46, 74), ()).wrong[0]


def test_a_tune_lies_above_the_chord() -> None:
    """From a little below its top on; far above nobody plays one to it."""
    fill = [int(Scores([C]).fit((note,), ()).fill[0]) for note in (66, 73, 80)]
    assert fill[0] == fill[1] < fill[2]


def test_lines_and_tuning_are_elsewhere() -> None:
    """A note by step from the one before, the same string again or its octave: likelier than any; a handful together is
    less like noodling than one by one."""
    scores = Scores(DRILL)
    line, tuned, leap = (scores.fit((note,), (), (80,)).elsewhere for note in (82, 80, 75))
    assert line < leap
    assert tuned < leap
    assert scores.fit((70,), ()).elsewhere == leap
    chord = scores.fit((41, 46, 51), ()).elsewhere
    assert chord > sum(scores.fit((note,), ()).elsewhere for note in (41, 46, 51))


@given(NOTES, NOTES)
def test_tones_are_those_of_each_step(struck: tuple[int, ...], ringing: tuple[int, ...]) -> None:
    """Bits of the tones that were plucked or rang; clean is nothing else plucked; equal chords have equal prices."""
    scores = Scores(DRILL)
    fit = scores.fit(struck, ringing)
    for step, wanted in enumerate(DRILL):
        sounding = {*struck, *ringing}
        assert bin(int(fit.tones[step])).count("1") == len(sounding.intersection(wanted.pitches))
        assert (fit.tones[step] == scores.whole[step]) == (set(wanted.pitches) <= sounding)
        assert bool(fit.clean[step]) == (set(struck) <= set(wanted.pitches))
    for prices in (fit.at, fit.wrong, fit.fill):
        assert prices[0] == prices[2]
        assert (prices > 0).all()


@given(NOTES)
def test_what_is_not_plucked_costs_nothing(struck: tuple[int, ...]) -> None:
    """Strings that merely ring on are never held against anybody."""
    scores = Scores(DRILL)
    quiet, ringing = scores.fit(struck, ()), scores.fit(struck, (40, 41, 83))
    assert (quiet.at == ringing.at).all()
    assert (quiet.wrong == ringing.wrong).all()
    assert (quiet.fill == ringing.fill).all()
    assert quiet.elsewhere == ringing.elsewhere
