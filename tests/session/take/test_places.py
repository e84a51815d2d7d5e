"""Where in the pattern the click is, in a whole take."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.session.take.places import between_beats, place_now
from listener.session.take.practice import LEAD_S, Practice, TakeSettings

HEAD = 'title = "T"\nkey = "C major"\ntempo = 60\n'
STRUMMED = '[[passage]]\nchords = "C | G F"\nkind = "full"\npattern = { strum = "d . d u d u d u" }\n'
FREE = '[[passage]]\nchords = "C"\n'
SINGLE = make_pickup("single")
#: The first beat of a take at 60 with a bar of count-in.
FIRST_S = LEAD_S + 4.0


def planned(text: str) -> Plan:
    return plan_drill(read_drill(HEAD + text, "t"), make_instrument("standard"), make_hand("medium"))


def test_the_click_subdivides_while_a_passage_with_a_pattern_is_on() -> None:
    """Eighths in the second passage, beats only in the first and third."""
    plan = planned(FREE + STRUMMED + FREE)
    practice = Practice(plan, SINGLE, TakeSettings(tempo=60.0))
    clicks = practice.clicks(100.0)
    between = [click.time_s - FIRST_S for click in clicks if click.between]
    assert between == pytest.approx([4.5 + n for n in range(8)])
    assert len(clicks) == 4 + 16 + 8


def test_swing_and_triplets() -> None:
    """The places sound where they are played."""
    swung = planned(STRUMMED.replace("}", ", swing = 0.67 }"))
    assert between_beats(swung.steps)[:2] == pytest.approx((2 / 3, 1 + 2 / 3))
    triplets = planned(STRUMMED.replace("}", ', place = "1/12" }'))
    assert between_beats(triplets.steps)[:3] == pytest.approx((1 / 3, 2 / 3, 4 / 3))
    quarters = planned(STRUMMED.replace("d . d u d u d u", "d u").replace("}", ', place = "1/4" }'))
    assert between_beats(quarters.steps) == ()


def test_where_one_is_in_the_pattern() -> None:
    """By the click, over the bars, whatever step is shown already; not in the count-in and not in a pause."""
    practice = Practice(planned(STRUMMED), SINGLE, TakeSettings(tempo=60.0))
    assert practice.snapshot(FIRST_S - 0.2).place is None
    found = [practice.snapshot(FIRST_S + beats + 0.1).place for beats in (0, 0.5, 1, 3.5, 4, 6, 6.5, 7.5)]
    assert found == [0, 1, 2, 7, 0, 4, 5, 7]
    assert practice.snapshot(FIRST_S).place == 0
    practice.pause_or_resume(FIRST_S + 2)
    assert practice.snapshot(FIRST_S + 2.1).place is None


def test_over_the_chord_it_begins_with_the_chord() -> None:
    """The second chord of the second bar has its own first place."""
    plan = planned(STRUMMED.replace("}", ', over = "chord" }'))
    assert [place_now(plan.steps, 2, beats) for beats in (6.0, 6.5, 7.0)] == [0, 1, 2]


def test_at_own_pace_nobody_knows_the_place() -> None:
    """The pattern is shown alone."""
    practice = Practice(planned(STRUMMED), SINGLE, TakeSettings(tempo=None))
    assert practice.snapshot(3.0).place is None


def test_another_pattern_than_the_shown_one_has_no_place() -> None:
    """The chord of the next passage is shown before its time: its pattern is not on yet."""
    plan = planned(STRUMMED + STRUMMED.replace("d . d u", "d d d u"))
    assert place_now(plan.steps, 3, 7.9) is None
    assert place_now(plan.steps, 3, 8.0) == 0
    assert place_now(plan.steps, 99, 8.0) is None
    free = replace(plan.steps[0], step=replace(plan.steps[0].step, pattern=None))
    assert place_now([free], 0, 0.0) is None
    assert place_now(plan.steps, 0, Fraction(-1)) is None
