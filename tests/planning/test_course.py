"""The course as a whole: its order, its words, what every drill promises, and that it can be played."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Final

import pytest

from listener.cli import main
from listener.data import data_folder, shared_table
from listener.errors import DrillError, PlanError
from listener.following.pace import Anchor
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.player import Player
from listener.hearing.sources.simulated import simulate
from listener.hearing.take_file import Take
from listener.judging.singing import TOP, singing
from listener.judging.take import judge_take
from listener.judging.verdict import HIT
from listener.planning.drill_file import bundled_drills, load_drill, read_drill
from listener.planning.easier import worst_strain
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill
from listener.planning.report import report
from listener.screen.drill_view import drill_view
from listener.screen.theme import theme_for

NAMES: Final = bundled_drills()
EARLY: Final = NAMES[:6]
HANDS: Final = ("small", "medium", "large")
FAULTLESS: Final = Player(slip_shares={})
#: The medium hand's limits over the small one's (shared/hands.toml): what a shape's strain grows by.
HANDS_APART: Final = 90 / 80
HEAD = 'title = "t"\nkey = "C major"\n'


@cache
def planned(name: str, hand: str) -> Plan:
    """The plan of a bundled drill in standard tuning."""
    return plan_drill(load_drill(name), make_instrument(), make_hand(hand))


def playable(name: str, hand: str) -> bool:
    """Whether there is a plan."""
    try:
        planned(name, hand)
    except PlanError:
        return False
    return True


def by_passage(name: str, hand: str = "medium") -> dict[str, list[PlannedStep]]:
    """The planned steps of a drill by passage."""
    found: dict[str, list[PlannedStep]] = {}
    for one in planned(name, hand).steps:
        found.setdefault(one.step.passage, []).append(one)
    return found


@pytest.mark.parametrize(
    ("value", "complaint"),
    [
        ("5", "line 3: 'instead' must be a text in quotes, not 5"),
        ('"wide"', "line 3: 'instead' is this drill itself; name one that asks less of the hand"),
        ('"one or two"', "line 3: 'instead' must be the name of one drill such as \"ferry-landing\", not 'one or two'"),
    ],
)
def test_what_stands_in_is_named_well(value: str, complaint: str) -> None:
    """The field ``instead`` holds the name of one other drill."""
    with pytest.raises(DrillError) as raised:
        read_drill(f'{HEAD}instead = {value}\n[[passage]]\nchords = "C"', "wide")
    assert str(raised.value) == f"wide: {complaint}"


@pytest.mark.parametrize(
    "lines",
    [
        'chords = "C"\nbottom = "E2"\ntop = "E4"\nfrets = [5, 9]',
        'chords = "C | G"\ntop = ["C4", "up"]\nbottom = ["C3", "up"]\nfrets = [1, 3]\nstrings = [5, 4, 2]',
    ],
)
def test_a_hand_that_cannot_is_told_what_to_play(lines: str) -> None:
    """Whether a step or a change has no way, the message ends with the drill that stands in."""
    text = f'{HEAD}instead = "ferry-landing"\n[[passage]]\nkind = "close"\n{lines}'
    with pytest.raises(PlanError, match=r"; ferry-landing is the drill to play instead$"):
        plan_drill(read_drill(text, "t"), make_instrument(), make_hand("small"))


def test_what_stands_in_is_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``widehand drills show`` says what to play where the hand does not reach."""
    path = tmp_path / "wide.toml"
    path.write_text(f'{HEAD}instead = "ferry-landing"\n[[passage]]\nchords = "C"', encoding="utf-8")
    assert main(["drills", "show", str(path)]) == 0
    assert "If your hand cannot reach it, play ferry-landing instead." in capsys.readouterr().out


def test_topics_and_steps_of_difficulty() -> None:
    """Every topic of shared/topics.toml comes up and no other; difficulty never jumps by more than one."""
    drills = [load_drill(name) for name in NAMES]
    assert {drill.topic for drill in drills} == set(shared_table("topics")["topic"])
    assert drills[0].difficulty == 1
    assert max(drill.difficulty for drill in drills) == 5
    assert all(abs(two.difficulty - one.difficulty) <= 1 for one, two in pairwise(drills))


@pytest.mark.parametrize("name", NAMES)
def test_the_words_fit_a_terminal(name: str) -> None:
    """Short enough to be read before playing; every line that is shown fits into 80 columns as it is."""
    drill = load_drill(name)
    assert len(drill.title) <= 56
    for text, least, most in ((drill.about, 200, 450), (drill.listen_for, 60, 240), (drill.move_on, 50, 140)):
        assert least <= len(text) <= most
        assert text.endswith(".")
    rows = drill_view(drill, width=80, theme=theme_for("utf-8")).rows
    assert max(sum(segment.cell_length for segment in cells) for cells in rows) <= 80
    shown = " ".join(" ".join(segment.text for segment in cells) for cells in rows).split()
    for text in (drill.title, drill.about, drill.listen_for, drill.move_on):
        assert text in " ".join(shown)


def test_the_table_of_the_course_is_current() -> None:
    """drills/README.md lists the course: number, name, what it is for, topic and difficulty."""
    rows = []
    for number, name in enumerate(NAMES, start=1):
        drill = load_drill(name)
        what = drill.title.partition(": ")[2]
        assert what, f"{name}: the title says after a colon what the drill is for"
        rows.append(f"| {number} | `{name}` | {what} | {drill.topic} | {drill.difficulty} |")
    text = (data_folder("drills") / "README.md").read_text(encoding="utf-8")
    assert re.findall(r"^\| \d+ \| .*$", text, re.MULTILINE) == rows


@pytest.mark.parametrize("name", [name for name in NAMES if load_drill(name).instead])
def test_what_stands_in_asks_less_of_the_hand(name: str) -> None:
    """It is a drill of the course that a small hand can play, its widest shape less wide than the other's."""
    instead = load_drill(name).instead
    assert instead in NAMES
    assert worst_strain(planned(instead, "small")) < 0.9 * HANDS_APART * worst_strain(planned(name, "medium"))


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", NAMES)
def test_every_drill_played_without_mistakes_is_all_hits(name: str, hand: str) -> None:
    """The simulated player makes no slip, with the click and at the drill's own tempo: every step is a hit."""
    if not playable(name, hand):
        name = load_drill(name).instead
    plan = planned(name, hand)
    pickup = make_pickup("per-string")
    messages = simulate(plan, seed=11, pickup=pickup, tempo=plan.drill.tempo, first_beat_s=2.0, player=FAULTLESS)
    verdicts = judge_take(plan, pickup, Take(messages, (), None), Anchor(0, 2.0, plan.drill.tempo))
    assert [verdict.step for verdict in verdicts] == list(range(len(plan.steps)))
    assert {verdict.grade for verdict in verdicts} == {HIT}


@pytest.mark.parametrize(("name", "string"), [("low-tide", 6), ("half-tide", 5), ("high-tide", 4)])
@pytest.mark.parametrize("hand", HANDS)
def test_every_inversion_from_every_bass_string(name: str, string: int, hand: str) -> None:
    """The tides: one passage for each inversion, its bass always on the string that the drill promises."""
    steps = planned(name, hand).steps
    for number, passage in enumerate(("root", "third", "fifth")):
        inside = [one for one in steps if one.step.passage == f"{passage} at the bottom"]
        assert len(inside) == 4
        assert {(one.fingering.strings[0], one.voicing.kind, one.voicing.inversion) for one in inside} == {
            (string, "spread", number)
        }
    turned = [one for one in steps if one.step.passage.startswith("one chord")]
    assert {one.voicing.inversion for one in turned} == {0, 1, 2}
    if name != "high-tide":  # which goes over the whole neck in the end
        assert {one.fingering.strings[0] for one in turned} == {string}


@pytest.mark.parametrize("hand", HANDS)
def test_the_first_chords_are_narrow_then_wide(hand: str) -> None:
    """Paddock gate: each chord in its full shape and then as a spread triad in root position, no fret above the 3rd."""
    steps = planned("paddock-gate", hand).steps
    kinds = [(one.voicing.kind, one.voicing.inversion) for one in steps[:10]]
    assert kinds == [("full", 0), ("spread", 0)] * 5
    assert {one.voicing.kind for one in steps[10:]} == {"spread"}
    assert max(one.fingering.highest_fret for one in steps) <= 3


@pytest.mark.parametrize("name", EARLY)
def test_the_first_drills_are_no_harder_than_an_open_chord(name: str) -> None:
    """Of a medium hand's reach no shape of the first six drills asks more than the open G and C shapes that every
    beginner learns (common practice), give or take a twentieth."""
    everyday = max(
        one.fingering.strain for one in planned("paddock-gate", "medium").steps if one.voicing.kind == "full"
    )
    assert worst_strain(planned(name, "medium")) <= everyday + 0.05


@pytest.mark.parametrize("name", ["three-barns", "four-oars", "harbour-lullaby", "winter-well", "lamp-in-the-window"])
def test_the_nearest_way_is_nearer_than_everyday_shapes(name: str) -> None:
    """Where that is the point of the drill, the voices move no more than between the everyday shapes of the chords."""
    drill = load_drill(name)
    found = report(planned(name, "medium"), drill, make_instrument(), make_hand())
    assert found.everyday is not None
    assert found.plan.movement <= found.everyday.movement


@pytest.mark.parametrize(
    ("name", "degree"),
    [("wind-vane", "5"), ("mooring-posts", "1"), ("mill-verse", "3"), ("mill-verse-in-the-rain", "3")],
)
def test_the_promised_tone_is_on_top(name: str, degree: str) -> None:
    """Third, fifth and root on top, in close and in spread shapes."""
    steps = planned(name, "medium").steps
    assert {one.voicing.degrees[-1].lstrip("b") for one in steps} == {degree}
    assert {one.voicing.kind for one in steps} == {"close", "spread"}


SINGABLE = (
    "barn-waltz", "harbour-lullaby", "kite-string", "lamp-in-the-window", "mill-verse-in-the-rain", "mooring-posts",
    "the-ropewalk", "tram-bell", "two-banks",
)  # fmt: skip


@pytest.mark.parametrize("name", [*SINGABLE, "evening-at-the-weir"])
def test_top_lines_can_be_sung(name: str) -> None:
    """Where the top line is the point, most moves hold or step, at most one in eight leaps, and all lie within two
    octaves (a singer's usual range, common practice)."""
    for steps in by_passage(name).values():
        top = singing([[one.fingering.pitches for one in steps]]).voice(TOP)
        assert top is not None
        assert top.leaps <= max(1, top.moves / 8)
        assert top.steps + top.holds >= top.skips
        assert top.largest <= 9
        assert top.range_semitones <= 24


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize(("name", "held"), [("grey-heron", "1"), ("reed-warbler", "3"), ("old-willow", "5")])
def test_one_tone_is_held_in_its_place(name: str, held: str, hand: str) -> None:
    """Root, third or fifth lies on one string and fret through a passage, and the scale above never skips a step but
    for notes that the drill says it left out."""
    for steps in by_passage(name, hand).values():
        assert len({(one.fingering.strings[0], one.fingering.frets[0]) for one in steps}) == 1
        assert {one.voicing.degrees[0].lstrip("b") for one in steps} == {held}
        tops = [one.voicing.midi[-1] for one in steps]
        assert all(1 <= abs(two - one) <= 2 for one, two in pairwise(tops))


def test_the_kinds_of_sevenths_are_all_there() -> None:
    """Shells, drop 2, drop 3, and drop 2 & 4, each with four-note (or three-note) sevenths."""
    kinds = {
        one.voicing.kind
        for name in NAMES
        if load_drill(name).topic == "sevenths"
        for one in planned(name, "medium").steps
    }
    assert {"shell", "drop 2", "drop 3", "drop 2 & 4"} <= kinds


def test_all_keys_of_the_circle() -> None:
    """Hilltop fires and the drove road come through all twelve roots, and through each drove-road key once."""
    roots = [one.voicing.chord.root.pitch_class for one in planned("hilltop-fires", "medium").steps[:13]]
    assert [(two - one) % 12 for one, two in pairwise(roots)] == [5] * 12
    passages = list(by_passage("drove-road"))
    assert len(passages) == 12
    tonics = {steps[-1].voicing.chord.root.pitch_class for steps in by_passage("drove-road").values()}
    assert tonics == set(range(12))


def test_the_pieces_are_whole() -> None:
    """Evening at the weir: AABA in 32 bars, the last A like the second; the ropewalk: sixteen bars of verse and of
    chorus, thin and then full."""
    tune = [(one.step.start_beats, one.voicing.names[-1]) for one in planned("evening-at-the-weir", "medium").steps]
    parts = [[(at % 32, note) for at, note in tune if part * 32 <= at < part * 32 + 32] for part in range(4)]
    assert tune[-1][0] + 4 == 128
    assert parts[1] == parts[3] != parts[0]
    assert parts[0][:9] == parts[1][:9]
    assert parts[2][:3] != parts[0][:3]
    verse, chorus = by_passage("the-ropewalk").values()
    assert {len(one.voicing.midi) for one in verse} == {3}
    assert min(len(one.voicing.midi) for one in chorus) >= 4
    assert (chorus[0].step.bar, chorus[-1].step.bar) == (17, 32)
