"""Easier on the hand: shapes near its limit, and plans that keep away from it."""

from __future__ import annotations

import pytest
from how_many import some
from lab.course import planned as plan_of

from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.easier import (
    EASY,
    NEAR_LIMIT,
    beyond_ease,
    easier_shape,
    jumps,
    near_limit,
    plan_easier,
    worst_strain,
)
from listener.planning.planner import plan_drill
from listener.planning.shapes.candidates import candidates

GUITAR, SMALL = make_instrument(), make_hand("small")
#: Drills that a small hand can play: those that name another to play instead may be too wide for it.
NAMES = [name for name in bundled_drills() if not load_drill(name).instead]


@pytest.mark.parametrize("name", some(NAMES, each=8))
def test_never_harder_and_always_as_wished(name: str) -> None:
    """The drills of the course with a small hand: together the shapes ask less of the hand or as much, the voices move
    no further and the hand jumps no more often; each shape is one of its step's candidates, and a note says what
    changed, in movement too."""
    drill = load_drill(name)
    usual, easier = plan_of(name, "small"), plan_easier(drill, GUITAR, SMALL)
    assert beyond_ease(easier) <= beyond_ease(usual)
    assert easier.total_movement <= usual.total_movement
    assert jumps(easier) <= jumps(usual)
    for planned in easier.steps[:8]:
        wished = {candidate.fingering for candidate in candidates(planned.step.wish, GUITAR, SMALL)}
        assert planned.fingering in wished
    (words,) = set(easier.drill.notes) - set(drill.notes)
    assert words.startswith("Easier: ")
    if beyond_ease(easier) < beyond_ease(usual):
        assert f"{easier.total_movement} semitones instead of {usual.total_movement}" in words
    if not beyond_ease(usual):
        assert easier.steps == usual.steps


def test_the_limit_is_kept_where_it_can_be() -> None:
    """Where every wish has a shape within the limit, and no voice nor the hand pays for it, none goes beyond it."""
    drill = load_drill("wicket-gate")
    usual, easier = plan_drill(drill, GUITAR, SMALL), plan_easier(drill, GUITAR, SMALL)
    possible = [
        min(candidate.fingering.strain for candidate in candidates(step.wish, GUITAR, SMALL)) for step in drill.steps
    ]
    assert max(possible) <= EASY < worst_strain(usual)
    assert worst_strain(easier) <= EASY


def test_no_ease_is_bought_with_jumps() -> None:
    """Small stretches all over the neck are no easier verse: then the plan stays, and the note says why."""
    drill = load_drill("four-oars")
    usual, easier = plan_drill(drill, GUITAR, SMALL), plan_easier(drill, GUITAR, SMALL)
    assert beyond_ease(usual) > 0
    assert jumps(usual) == jumps(easier) == 0
    assert any("every easier way" in note for note in easier.drill.notes) == (easier.steps == usual.steps)


@pytest.mark.parametrize(("barre", "count"), [("Ab2(6) Eb3(5) Ab3(4) C4(3)", 0), ("A2(6) E3(5) A3(4) C#4(3)", 1)])
def test_a_jump_is_further_than_the_hand_is_wide(barre: str, count: int) -> None:
    """From a barre at fret 1 to one at fret 4, where the little finger could be, is no jump; to one at fret 5 it is."""
    chord = barre.split("2")[0]
    passage = f'[[passage]]\nchords = "F | {chord}"\nnotes = ["F2(6) C3(5) F3(4) A3(3)", "{barre}"]'
    plan = plan_drill(read_drill(f'title = "t"\nkey = "C major"\n{passage}', "t"), GUITAR, SMALL)
    assert {one.fingering.fingers for one in plan.steps} == {(1, 3, 4, 2)}
    assert jumps(plan) == count


def test_an_easier_shape_beside_each_hard_one() -> None:
    """For every shape near the limit: the least strain of its wish, or nothing when the planned one is about that."""
    found = 0
    for name in some(NAMES, first=1):
        plan = plan_of(name, "small")
        for planned in plan.steps:
            assert near_limit(planned) == (planned.fingering.strain >= NEAR_LIMIT)
            if near_limit(planned):
                least = min(c.fingering.strain for c in candidates(planned.step.wish, GUITAR, SMALL))
                easier = easier_shape(planned, plan)
                assert (easier is None) == (least > planned.fingering.strain - 0.05)
                if easier is not None:
                    found += 1
                    assert easier.fingering.strain == least
    assert found > 3
