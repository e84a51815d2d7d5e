"""Passages in contrast: the quiet one judged by its exact notes, the loud one by the chord alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from listener.drill.drill import EXACT, SAME_CHORD
from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.judging.verdict import HIT, NEAR
from listener.planning.planner import plan_drill
from listener.session.take.practice import Practice, TakeSettings

TEXT = """
title = "Two banks of a small river"
key = "C major"

[[passage]]
name = "quiet"
numerals = "I | IV"
kind = "spread"

[[passage]]
name = "loud"
numerals = "I | IV"
kind = "full"
strictness = "same chord"
"""


def test_each_passage_in_its_own_way(make_messages: Callable[..., list[Message]]) -> None:
    """The same other voicings of C and F, played in both passages: near where the notes are asked for, hits where any
    voicing of the chord will do."""
    plan = plan_drill(read_drill(TEXT, "two"), make_instrument(), make_hand())
    assert [planned.step.strictness for planned in plan.steps] == [EXACT] * 2 + [SAME_CHORD] * 2
    # The bottom note an octave higher, between the others or above them: another voicing of the same chord.
    quiet = [planned.voicing.midi for planned in plan.steps[:2]]
    others = [tuple(sorted((bottom + 12, *rest))) for bottom, *rest in quiet]
    assert all(planned.voicing.midi not in others for planned in plan.steps)
    practice = Practice(plan, replace(make_pickup("single"), delay_periods=0.0), TakeSettings(None))
    for message in make_messages([(1.0 + 2 * number, others[number % 2]) for number in range(4)]):
        practice.feed(message)
    practice.end(20.0)
    grades = [verdict.grade for verdict in practice.verdicts]
    assert grades[2:] == [HIT, HIT]
    assert grades[:2] == [NEAR, NEAR]
