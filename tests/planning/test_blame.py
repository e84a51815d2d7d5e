"""When what ties the steps together leaves no way through, one line says where, what, and what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.errors import PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch
from listener.planning.planner import plan_alternatives, plan_drill

GUITAR, HAND = make_instrument(), make_hand()


def drill(*steps: tuple[str, dict[str, object]], tops: Sequence[str] = ()) -> Drill:
    """Close triads, one a bar, each with what ties it to the one before, and perhaps a melody."""
    made = []
    for index, (chord, ties) in enumerate(steps):
        top = NoteWish(pitch=parse_pitch(tops[index])) if tops else NoteWish()
        wish = Wish(parse_chord(chord), ("close",), top=top)
        made.append(replace(Step(index, "p", index + 1, 1.0, 4.0 * index, 4.0, wish), **ties))  # type: ignore[arg-type]
    return Drill("a-drill", "A drill", "C major", 80.0, (4, 4), tuple(made))


def blame(asked: Drill) -> PlanError:
    with pytest.raises(PlanError) as caught:
        plan_drill(asked, GUITAR, HAND)
    assert "\n" not in str(caught.value)
    with pytest.raises(PlanError) as again:
        plan_alternatives(asked, GUITAR, HAND, 3)
    assert str(again.value) == str(caught.value)
    return caught.value


UP, SAME = {"top_motion": "up"}, {"top_motion": "same"}


def test_up_on_a_standing_melody() -> None:
    """A line cannot rise over a melody that stays: the step, both notes, and what would do."""
    error = blame(drill(("C", {}), ("C", UP), ("F", {}), tops=("G4", "G4", "A4")))
    assert error.step == 2
    assert str(error) == (
        "step 2 (bar 2, beat 1): C close, G4 on top cannot follow step 1: its top note has to go up, but it can be G4 "
        "and step 1 leaves G4; without the 'up' on top of step 2 the whole drill can be played"
    )


def test_same_on_a_moving_melody() -> None:
    """Nor can it stay under a melody that moves."""
    error = blame(drill(("C", {}), ("F", SAME), tops=("G4", "A4")))
    assert "its top note has to stay the same, but it can be A4 and step 1 leaves G4" in str(error)


def test_a_line_that_runs_out() -> None:
    """A line that rises at every step ends where the neck does; without its wish there the drill goes on."""
    error = blame(drill(*[("C", UP)] * 12))
    assert error.step is not None
    assert 4 < error.step < 12
    assert "has to go up" in str(error)
    assert f"without the 'up' on top of step {error.step} the whole drill can be played" in str(error)


def test_a_line_that_runs_out_twice() -> None:
    """Where one gift is not enough, it says how far it helps."""
    error = blame(drill(*[("C", UP)] * 60))
    assert "it can be played as far as step" in str(error)


def test_an_earlier_step_may_give_way() -> None:
    """The nearest thing that works may lie before the step that is lost."""
    error = blame(drill(("C", {}), ("C", {"top_motion": "highest"}), ("C", {"top_motion": "up", "hold": (60,)})))
    assert error.step == 3
    assert "without the 'highest' on top of step 2 the whole drill can be played" in str(error)


def test_highest_and_lowest_at_once() -> None:
    """A first step whose outer wishes do not go together has no step before it to blame."""
    error = blame(drill(("C", {"top_motion": "highest", "bottom_motion": "lowest"}), ("F", {})))
    assert error.step == 1
    assert "no shape has both the 'highest' on top and the 'lowest' at the bottom; without" in str(error)


def test_lines_that_exclude_each_other() -> None:
    """Each line alone could go on; both together cannot (a close triad is under an octave wide)."""
    widen = [{"top_motion": "up", "bottom_motion": "down"}] * 4
    error = blame(drill(*[("C", ties) for ties in widen]))
    assert error.step is not None
    assert "the 'up' on top and the 'down' at the bottom do not go together" in str(error)


@pytest.mark.parametrize(
    ("hold", "words"),
    [
        ((61,), "C#4 is to be held, but step 1 does not sound it"),
        ((65,), "F4 is to be held, but step 1 does not sound it"),
        ((64,), "E4 is to be held, but no shape here has it"),
        ((300,), "note 300 is to be held, but step 1 does not sound it"),
        ((60, 67), "G4 is to be held, but no shape here has it"),
    ],
)
def test_what_cannot_be_held(hold: tuple[int, ...], words: str) -> None:
    """A held note that the step before has not, or this one has not, is named as the chords spell it."""
    error = blame(drill(("C", {}), ("F", {"hold": hold})))
    assert error.step == 2
    assert words in str(error)
    assert "without the held note" in str(error)


def test_held_but_elsewhere() -> None:
    """Both steps sound the note, but never in the same place."""
    asked = drill(("C", {}), ("F", {"hold": (60,)}))
    here = replace(asked.steps[0].wish, strings=(6, 5, 4))
    there = replace(asked.steps[1].wish, strings=(3, 2, 1))
    asked = replace(asked, steps=(replace(asked.steps[0], wish=here), replace(asked.steps[1], wish=there)))
    assert "C4 cannot be held: no shape here has it in the same place" in str(blame(asked))
