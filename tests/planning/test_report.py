"""The report on a plan: totals that can be added up by hand, beside honest yardsticks."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from how_many import examples, some
from hypothesis import given, settings
from hypothesis import strategies as st
from lab.course import planned
from spots import Spot, spot, spots

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.drill.drill_file import bundled_drills, load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch
from listener.planning.planner import plan_drill
from listener.planning.report import PlanReport, report, totals

GUITAR, HAND = make_instrument(), make_hand()


def drill(*wishes: Wish, loop: bool = False, least: bool = True) -> Drill:
    steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wish) for i, wish in enumerate(wishes))
    return Drill("d", "D", "C major", 80.0, (4, 4), steps, loop=loop, least_movement=least)


def told(asked: Drill) -> PlanReport:
    return report(plan_drill(asked, GUITAR, HAND), asked, GUITAR, HAND)


def spread(*chords: str) -> list[Wish]:
    return [Wish(parse_chord(chord), ("spread",)) for chord in chords]


def test_totals_by_hand() -> None:
    """C, Am and F in close position with the top note held twice, worked out by hand."""
    route = [
        spot([60, 64, 67], centre_mm=100.0, strain=0.25).fingering,
        spot([60, 64, 69], centre_mm=130.0, strain=0.5).fingering,
        spot([60, 65, 69]).fingering,
        spot([60, 65, 74], centre_mm=90.0).fingering,
    ]
    found = totals(route)
    assert (found.movement, found.cost, found.voices_moved) == (2 + 1 + 5, 8, 9)
    assert (found.common_kept, found.common_possible, found.largest_leap) == (2 + 2 + 2, 2 + 2 + 2, 5)
    assert (found.travel_mm, found.worst_strain) == (30.0, 0.5)
    lines = {line.name: (line.holds, line.steps, line.skips, line.leaps) for line in found.voices}
    assert lines == {"top": (1, 1, 0, 1), "2nd": (2, 1, 0, 0), "bottom": (3, 0, 0, 0)}
    assert [line.name for line in found.voices] == ["top", "2nd", "bottom"]


def test_inner_voices_are_counted_from_the_top() -> None:
    """Of four notes the 2nd from the top leaps here, and the others hold."""
    route = [spot([48, 55, 60, 67]).fingering, spot([48, 55, 65, 67]).fingering]
    lines = {line.name: (line.holds, line.steps, line.skips, line.leaps) for line in totals(route).voices}
    held, leapt = (1, 0, 0, 0), (0, 0, 0, 1)
    assert lines == {"top": held, "2nd": leapt, "3rd": held, "bottom": held}


def test_totals_of_a_loop() -> None:
    """The way back is a change like the others."""
    route = [spot([60, 64]).fingering, spot([62, 65]).fingering]
    assert totals(route).movement == 3
    assert totals(route, loop=True).movement == 6


def test_common_tones_that_are_not_kept() -> None:
    """A tone that both chords have, but elsewhere, could have been kept; doubled ones count once."""
    route = [spot([48, 60, 64, 67]).fingering, spot([53, 57, 65, 72]).fingering]
    assert (totals(route).common_kept, totals(route).common_possible) == (0, 1)
    doubled = [spot([48, 60, 64]).fingering, spot([48, 60, 65]).fingering]
    assert (totals(doubled).common_kept, totals(doubled).common_possible) == (1, 1)


def test_voices_of_unequal_chords() -> None:
    """Between three notes and four only the outer lines can be followed; a single note is a top line alone."""
    route = [spot([48, 55, 64]).fingering, spot([47, 55, 62, 67]).fingering, spot([60]).fingering]
    lines = {line.name: line.moves for line in totals(route).voices}
    assert lines == {"top": 2, "bottom": 1}
    assert totals(route).cost > totals(route).movement


@settings(max_examples=examples(100), deadline=None)
@given(route=st.lists(spots, min_size=1, max_size=5), loop=st.booleans())
def test_totals_are_consistent(route: list[Spot], loop: bool) -> None:
    """No more tones are kept than there are, shares add up, and the price of voices is never negative."""
    found = totals([taken.fingering for taken in route], loop)
    assert 0 <= found.common_kept <= found.common_possible
    assert found.cost >= found.movement >= found.largest_leap
    for line in found.voices:
        shares = line.as_json()["shares"]
        assert isinstance(shares, dict)
        assert sum(shares.values()) == pytest.approx(1.0, abs=0.002)


def test_a_free_route_of_least_movement_meets_the_least() -> None:
    """C F G C in spread triads: 3 + 6 + 3 semitones, ratio 1, and nothing else moves less."""
    found = told(drill(*spread("C", "F", "G", "C")))
    assert (found.plan.movement, found.least, found.ratio) == (12, 12, 1.0)
    assert found.everyday is not None
    assert found.greedy is not None
    assert found.greedy.cost >= found.plan.cost


def test_a_melody_has_its_price() -> None:
    """With a melody that leaps the ratio says how much more the voices move than they would have to."""
    tops = ["C4", "A4", "G4", "G5"]
    wishes = [
        replace(w, top=NoteWish(pitch=parse_pitch(t))) for w, t in zip(spread("C", "F", "G", "C"), tops, strict=True)
    ]
    found = told(drill(*wishes))
    assert found.ratio is not None
    assert found.ratio == found.plan.cost / 12 > 1.0


def test_nothing_need_move() -> None:
    """The same chord twice: ratio 1 when it stays, and no ratio when a melody makes it move."""
    stays = told(drill(*spread("C", "C")))
    assert (stays.least, stays.ratio) == (0, 1.0)
    low, high = (replace(spread("C")[0], top=NoteWish(pitch=parse_pitch(top))) for top in ("E4", "G4"))
    moves = told(drill(low, high))
    assert (moves.least, moves.ratio) == (0, None)
    assert moves.as_json()["ratio"] is None


def test_a_chord_without_an_everyday_shape() -> None:
    """The report says so and goes on."""
    three = make_instrument("G3 B3 E4")
    asked = drill(Wish(parse_chord("C"), ("close",)), Wish(parse_chord("F"), ("close",)))
    found = report(plan_drill(asked, three, HAND), asked, three, HAND)
    assert found.everyday is None
    assert found.everyday_note == "there is no everyday shape of C, F for this neck and hand"
    assert found.greedy is not None


def test_greed_that_ends_early() -> None:
    """Where always taking the nearest runs into a dead end, the report says at which step."""
    chords = [Wish(parse_chord(chord), ("close",)) for chord in ("C", "Am", "F")]
    tops = (NoteWish(pitch=parse_pitch("G4")), NoteWish(), NoteWish(pitch=parse_pitch("A4")))
    asked = drill(*[replace(wish, top=top) for wish, top in zip(chords, tops, strict=True)])
    motions = (None, "up", "down")
    steps = tuple(replace(step, top_motion=word) for step, word in zip(asked.steps, motions, strict=True))
    found = told(replace(asked, steps=steps))
    assert found.greedy is None
    assert found.greedy_note == "always taking the nearest ends at step 2: from there step 3 cannot be reached"
    assert found.plan.movement > 0


@pytest.mark.parametrize("name", some(bundled_drills(), first=2, each=8))
def test_every_bundled_drill_has_a_report(name: str) -> None:
    """Least possible is no more than planned, and the document is plain JSON."""
    asked = load_drill(name)
    plan = planned(name)
    found = report(plan, asked, GUITAR, HAND)
    assert found.least <= found.plan.cost
    assert found.plan.movement == plan.total_movement
    assert json.loads(json.dumps(found.as_json())) == found.as_json()
