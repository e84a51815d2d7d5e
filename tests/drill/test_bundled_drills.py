"""The course: every drill loads, plans, and is fit for the hands and ears it is written for."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from how_many import some
from lab.course import planned

from listener.data import data_folder
from listener.drill.drill_file import bundled_drills, load_drill
from listener.errors import PlanError
from listener.planning.plan import PlannedStep

NAMES = bundled_drills()
#: Every drill under a medium hand, and under the others too.
HELD = [
    *((name, "medium") for name in NAMES),
    *((name, "small") for name in some(NAMES)),
    *((name, "large") for name in some(NAMES, first=2)),
]
#: Drills with a shape that is too wide for a hand; they name another to play instead.
TOO_WIDE: set[tuple[str, str]] = set()


def test_the_course_is_in_order() -> None:
    """At least ten drills, in the order of the numbers of their files; the player sees no number."""
    files = sorted(path.stem for path in data_folder("drills").glob("*.toml"))
    assert len(NAMES) >= 10
    assert [re.sub(r"^\d\d-", "", file) for file in files] == list(NAMES)
    assert len(set(NAMES)) == len(NAMES)
    assert load_drill(files[0]).name == NAMES[0]


@pytest.mark.parametrize("name", NAMES)
def test_every_drill_says_what_a_teacher_would(name: str) -> None:
    """Each says what it is for, where to listen and when to move on."""
    drill = load_drill(name)
    assert drill.name == name
    assert drill.topic
    assert len(drill.about) > 100
    assert len(drill.listen_for) > 40
    assert len(drill.move_on) > 40
    assert all(step.passage for step in drill.steps)


@pytest.mark.parametrize("name", NAMES)
def test_pain_means_stop_where_hands_are_asked_for_much(name: str) -> None:
    """The first drill says so, those of difficulty 4 and 5, and those that ask more of a medium hand than the open C
    shape, which every beginner learns."""
    drill = load_drill(name)
    open_c = max(one.fingering.strain for one in planned("paddock-gate", "medium").steps)
    asked = max(one.fingering.strain for one in planned(name, "medium").steps)
    if name == NAMES[0] or drill.difficulty >= 4 or asked > open_c:
        assert re.search(r"\bhurts?\b|pain means stop", drill.about, re.IGNORECASE)
        assert re.search(r"\b(stop|rest|leave)\b", drill.about, re.IGNORECASE)


def test_pain_that_stays_is_for_somebody_who_knows() -> None:
    """The first drill and the one with the widest shape send you to a teacher or clinician."""
    widest = max(NAMES, key=lambda name: max(one.fingering.strain for one in planned(name, "medium").steps))
    for name in (NAMES[0], widest):
        assert "teacher or clinician" in load_drill(name).about


@pytest.mark.parametrize(("name", "hand"), HELD)
def test_every_drill_can_be_planned(name: str, hand: str) -> None:
    """Each has a route in standard tuning for every hand with every wish met; where a small hand cannot, the message
    ends with a drill that it can play."""
    if (name, hand) in TOO_WIDE:
        instead = load_drill(name).instead
        with pytest.raises(PlanError, match=f"too wide for a small hand.*; {instead} is the drill to play instead$"):
            planned(name, hand)
        name = instead
    plan = planned(name, hand)
    assert len(plan.steps) == len(plan.drill.steps)
    for one in plan.steps:
        wish = one.step.wish
        assert wish.top.allows(wish.chord, one.voicing.midi[-1])
        assert wish.bottom.allows(wish.chord, one.voicing.midi[0])
        assert one.fingering.highest_fret <= 15


@pytest.mark.parametrize("name", ["harbour-lullaby", "twelve-mile-road", "three-barns", "four-oars", "winter-well"])
def test_voices_move_by_step_where_the_drill_is_about_that(name: str) -> None:
    """In the drills on leading voices no voice leaps (5 semitones or more) inside a passage, and most changes keep a
    common tone."""
    plan = planned(name, "medium")
    changes = [
        two.movement for one, two in pairwise(plan.steps) if two.movement and one.step.passage == two.step.passage
    ]
    assert max(change.largest for change in changes) < 5
    assert sum(change.common > 0 for change in changes) > len(changes) / 2


def test_thirds_and_sevenths_sink_round_the_circle() -> None:
    """Twelve-mile road: from dominant to dominant each third sinks a half step to the next seventh, and each seventh
    to the next third (common practice)."""
    steps = [one.voicing for one in planned("twelve-mile-road", "medium").steps if one.step.passage == "twelve keys"]
    assert len(steps) == 13
    for before, after in pairwise(steps):
        notes = dict(zip(before.degrees, before.midi, strict=True))
        then = dict(zip(after.degrees, after.midi, strict=True))
        assert (then["b7"] - notes["3"], then["3"] - notes["b7"]) == (-1, -1)


def test_the_bass_of_the_falling_line_falls_by_step() -> None:
    """Cellar steps: inside the falling bass line each note is a step below the one before."""
    steps = [one for one in planned("cellar-steps", "medium").steps if one.step.passage.startswith("triads")]
    bass = [one.voicing.midi[0] for one in steps[:7]]
    assert all(1 <= above - below <= 2 for above, below in pairwise(bass))


def inside(name: str, hand: str = "medium") -> dict[str, list[PlannedStep]]:
    """The planned steps of a drill by passage."""
    found: dict[str, list[PlannedStep]] = {}
    for one in planned(name, hand).steps:
        found.setdefault(one.step.passage, []).append(one)
    return found


def test_the_course_shows_every_exercise() -> None:
    """Inversions, held tones, an extension ladder, a cycle, a contrast and a riff are all in the course."""
    texts = "".join(load_drill(name).text for name in NAMES)
    for exercise in ("scale run", "inversions", "held tones", "extension ladder", "cycle", "contrast", "riff"):
        assert f'exercise = "{exercise}"' in texts


@pytest.mark.parametrize("hand", ["small", "medium"])
def test_the_sails_turn(hand: str) -> None:
    """Windmill sails: the bass climbs through the inversions and comes back the same way."""
    for steps in inside("windmill-sails", hand).values():
        for five in (steps[start : start + 5] for start in range(0, len(steps), 5)):
            bass = [one.voicing.midi[0] for one in five]
            assert bass == bass[::-1]
            assert bass[0] < bass[1] < bass[2]


def test_two_banks_part_and_meet() -> None:
    """Two banks: bass and top go apart by step, then the bass stands on the low G under everything."""
    passages = inside("two-banks")
    apart = passages["walking apart"][:4]
    for one, two in pairwise(apart):
        assert 1 <= one.voicing.midi[0] - two.voicing.midi[0] <= 2
        assert 1 <= two.voicing.midi[-1] - one.voicing.midi[-1] <= 2
    low = passages["over a low G"]
    assert {one.voicing.midi[0] for one in low} == {43}
    tops = [one.voicing.midi[-1] for one in low]
    assert tops[0] < tops[1] < tops[2] < tops[3] == tops[4] > tops[5] > tops[6] > tops[7]


def test_one_bead_moves_at_a_time() -> None:
    """Bead string: falling by thirds in the key three notes stay and one moves by step (sevenths a third apart share
    three tones, common practice)."""
    for name, steps in inside("bead-string").items():
        if name.startswith("falling"):
            changes = [one.movement for one in steps[1:] if one.movement]
            assert {change.common for change in changes} == {3}
            assert all(change.semitones <= 2 for change in changes)


@pytest.mark.parametrize("hand", ["small", "medium"])
def test_the_bells_ring_through(hand: str) -> None:
    """Bell tower: the held tones lie on the same string and fret in every step, and what is left out is said."""
    for steps in inside("bell-tower", hand).values():
        held = set(steps[1].step.hold)
        places = {tuple((s, f) for s, f, p in zip(*_placed(one), strict=True) if p in held) for one in steps}
        assert len(places) == 1
        assert len(held) == 2
    assert any("left out" in note for note in load_drill("bell-tower").notes)


def _placed(one: PlannedStep) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
    return one.fingering.strings, one.fingering.frets, one.voicing.midi


def test_the_green_is_quiet_and_loud() -> None:
    """Cider fair: three voices in the verse, at least four in the chorus, root in the bass."""
    passages = inside("cider-fair")
    assert {len(one.voicing.midi) for one in passages["verse, picked"]} == {3}
    chorus = passages["chorus, strummed"]
    assert min(len(one.voicing.midi) for one in chorus) >= 4
    assert {one.voicing.inversion for one in chorus} == {0}


def test_the_corn_loft_is_climbed_rung_by_rung() -> None:
    """Corn loft: the root lies at the bottom of every chord, and each round has the extension of its rung."""
    steps = planned("corn-loft", "medium").steps
    assert len(steps) == 20
    assert {one.voicing.degrees[0] for one in steps} == {"1"}
    for rung, number in enumerate(("5", "7", "9", "11", "13")):
        for one in steps[4 * rung : 4 * rung + 4]:
            assert number in {degree.lstrip("b#") for degree in one.voicing.degrees}
