"""A drill written for single shapes and changes asks for exactly what lay on the neck before, and can be played."""

from __future__ import annotations

from itertools import pairwise

import pytest

from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.drill.making.skill_drill import Shape, skill_drill
from listener.errors import DrillError, PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.voicing import FULL, KINDS, OTHER
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

GUITAR, HAND = make_instrument(), make_hand()


def planned(name: str) -> Plan:
    return plan_drill(load_drill(name), GUITAR, HAND)


def shapes_of(plan: Plan) -> list[Shape]:
    return [
        Shape(str(one.voicing.chord), one.voicing.kind, one.fingering.strings, one.voicing.midi) for one in plan.steps
    ]


def played_again(*changes: tuple[Shape, ...]) -> Plan | None:
    text = skill_drill([[change] for change in changes], title="Today")
    return plan_drill(read_drill(text, "today"), GUITAR, HAND) if text is not None else None


@pytest.mark.parametrize("name", ["mill-verse", "cider-fair", "two-banks", "milk-float-shells", "corn-loft"])
def test_changes_of_the_course(name: str) -> None:
    """Each change of a drill becomes a passage of its own: four times both chords, the pitches they had, playable."""
    shapes = shapes_of(planned(name))
    pairs = list(pairwise(shapes))
    pairs = [pair for pair in pairs if all(shape.kind in KINDS and shape.kind != FULL for shape in pair)][:6]
    again = played_again(*pairs)
    assert again is not None
    found = [step.voicing.midi for step in again.steps]
    wanted = [shape.pitches for pair in pairs for _ in range(4) for shape in pair]
    assert found == wanted


@pytest.mark.slow
def test_every_shape_and_change_of_the_course() -> None:
    """Of all that the course asks for nearly everything can be asked for by itself and played: outer notes, strings,
    and where the kind says so all notes are what they were. The rest (held tones, doubled notes) is refused."""
    asked = refused = 0
    for name in bundled_drills():
        shapes = list(dict.fromkeys(shapes_of(planned(name))))
        for changes in [*((shape,) for shape in shapes), *pairwise(shapes)]:
            asked += 1
            try:
                again = played_again(changes)
            except (DrillError, PlanError):
                again = None
            if again is None:
                refused += 1
                continue
            strings = {string for shape in changes for string in shape.strings}
            for number, step in enumerate(again.steps):
                shape = changes[number % len(changes)]
                assert step.voicing.midi[:: len(step.voicing.midi) - 1] == shape.pitches[:: len(shape.pitches) - 1]
                assert set(step.fingering.strings) <= strings
                # A full shape on these strings may double another note.
                assert shape.kind in (FULL, OTHER) or step.voicing.midi == shape.pitches
    assert asked > 500
    assert refused < 0.1 * asked


def test_one_shape_through_its_chords() -> None:
    """Chords of one shape come in one passage, the round twice when there are two."""
    shapes = [Shape("C", "spread", (6, 4, 2), (48, 55, 64)), Shape("D", "spread", (6, 4, 2), (50, 57, 66))]
    text = skill_drill([[(shape,) for shape in shapes]], title="Shapes", about='what is "due"')
    assert text is not None
    drill = read_drill(text, "today")
    assert [str(step.wish.chord) for step in drill.steps] == ["C", "D", "C", "D"]
    assert [step.wish.strings for step in drill.steps] == [(6, 4, 2)] * 4
    assert drill.about == 'what is "due"'


@pytest.mark.parametrize(
    "shape",
    [
        Shape("C", "spread", (6, 4, 2), (48, 55, 65)),  # a melody note outside the chord
        Shape("H7", "spread", (6, 4, 2), (48, 55, 64)),
        Shape("N.C.", "other", (), ()),
    ],
)
def test_what_cannot_be_asked_for_is_left_out(shape: Shape) -> None:
    """No drill instead of one that cannot be read."""
    good = Shape("C", "spread", (6, 4, 2), (48, 55, 64))
    assert skill_drill([[(shape,)]], title="Today") is None
    assert skill_drill([[(good, shape)]], title="Today") is None
    text = skill_drill([[(shape,)], [(good,)]], title="Today")
    assert text is not None
    assert len(read_drill(text, "today").steps) == 4
