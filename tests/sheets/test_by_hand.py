"""A plan as somebody plays it: which string when, how loud, and what rings on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from sheet_plans import Timed, make_plan

from listener.errors import UsageError
from listener.music.pattern import Pattern
from listener.music.pattern_text import read_strums
from listener.planning.plan import Plan
from listener.sheets.by_hand import by_hand
from listener.sheets.wav_file import plan_wav


def plan_of(chords: Sequence[Timed], **steps: Any) -> Plan:
    """A plan at 60 beats a minute; ``steps`` are fields of every step but the first."""
    plan = make_plan(chords, tempo=60.0)
    rest = (replace(one, step=replace(one.step, **steps)) for one in plan.steps[1:])
    return replace(plan, steps=(plan.steps[0], *rest))


def test_a_chord_is_struck_from_the_lowest_string_up() -> None:
    """Six strings 8 ms apart, whatever the tempo; all end with the chord."""
    for tempo in (30.0, 120.0):
        sounds = by_hand(plan_of([("Em", 0, 4)]), tempo)
        assert [one.string for one in sounds] == [6, 5, 4, 3, 2, 1]
        assert [one.start_s for one in sounds] == pytest.approx([0.008 * n for n in range(6)])
        assert {one.end_s for one in sounds} == {240 / tempo}


def test_it_begins_with_its_first_chord() -> None:
    """However late in the drill that is."""
    assert [one.start_s for one in by_hand(plan_of([("C", 8, 4), ("F", 12, 4)]), 60.0)][::3] == [0.0, 4.0]


def test_up_strums_go_the_other_way() -> None:
    """Down from the low string, up from the high one; a string struck again ends what it sounded."""
    plan = make_plan([("Em", 0, 4)])
    pattern = Pattern(read_strums("d u . . . . . ."))
    plan = replace(plan, steps=tuple(replace(one, step=replace(one.step, pattern=pattern)) for one in plan.steps))
    sounds = by_hand(plan, 60.0)
    assert [one.string for one in sounds] == [6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6]
    again = {one.string: one.start_s for one in sounds[6:]}
    assert all(one.end_s == again[one.string] for one in sounds[:6])
    assert again == pytest.approx({n: 0.5 + 0.008 * (n - 1) for n in range(1, 7)})


def test_an_arpeggio_fills_its_chord() -> None:
    """One note after the other, evenly, where the drill is for that."""
    plan = plan_of([("C", 0, 3)])
    sounds = by_hand(replace(plan, drill=replace(plan.drill, arpeggio=True)), 60.0)
    assert [(one.pitch, one.start_s, one.end_s) for one in sounds] == [(48, 0.0, 3.0), (55, 1.0, 3.0), (64, 2.0, 3.0)]


def test_held_tones_are_plucked_again_softly() -> None:
    """Those that stay are in the background, what is new above them stands out."""
    sounds = by_hand(plan_of([("C", 0, 2), ("Cmaj7", 2, 2)], hold=(48,)), 60.0)
    velocities = {(one.pitch, one.start_s >= 2): one.velocity for one in sounds}
    assert velocities[48, True] < velocities[64, True] == velocities[48, False]


def test_what_lies_under_a_tune_rings_on() -> None:
    """Over a chord that stays only the new note is plucked; after a rest everything is."""
    chords: list[Timed] = [("C", 0, 2), ("Cmaj7", 2, 2), ("Cmaj7", 4, 2)]
    sounds = by_hand(plan_of(chords, under=True), 60.0)
    assert {(one.pitch, one.end_s) for one in sounds if one.start_s < 1} == {(48, 6.0), (55, 6.0), (64, 6.0)}
    assert [one.pitch for one in sounds if one.start_s >= 1] == [59]
    apart = by_hand(plan_of([("C", 0, 2), ("C", 3, 2)], under=True), 60.0)
    assert [one.pitch for one in apart] == [48, 55, 64, 48, 55, 64]


def test_what_would_never_end_is_refused() -> None:
    """With what to do instead."""
    with pytest.raises(UsageError, match=r"sound for 17 minutes, and 15 are the most; .* --passage"):
        plan_wav(plan_of([("C", 0, 4), ("C", 1000, 4)]))
