"""The course as a whole: its order, its words, what every drill promises, and that it can be played."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import pytest
from course_claims import (
    Claim,
    a_silent_string_over_the_bass,
    a_tenth_over_the_bass,
    all_inversions,
    all_voices_the_same_way,
    at_home,
    back_after,
    barre_and_three_strings,
    bass_climbs_and_comes_back,
    bass_degree,
    bass_names,
    bass_on_string,
    bass_on_strings,
    bass_walks,
    contrary_motion,
    degrees_in_order,
    every_string_it_has,
    finger_stays,
    finger_stays_while_the_top_does,
    flat_nines_go_home,
    frets_between,
    full_and_wide_on,
    handed_on,
    higher_and_down_again,
    highest_note_twice,
    holds_in_place,
    home_at,
    in_shape,
    in_turn,
    inversion,
    kept_on_top_from_fifth_to_ninth,
    kinds_are,
    leading_tone_in_the_bass,
    mostly_barres,
    no_move_wider_than,
    no_open_strings,
    no_pattern_in_the_kinds,
    no_top_skip_wider_than,
    on_strings,
    one_bead_at_a_time,
    one_holds_and_the_others_sink,
    one_note_joins_under_the_third,
    one_note_waits_and_two_step,
    one_place_in_all_passages,
    one_rung_higher_each_round,
    one_shape,
    only_taught_shapes,
    only_the_bass_moves,
    only_the_middle_moves,
    only_the_top_moves,
    picked_and_strummed,
    qualities,
    rounds_alike,
    same_way_back,
    scale_on_top,
    sevenths_fall_to_thirds,
    shared_notes_stay,
    span,
    steps_up_and_back,
    strokes_in_a_bar,
    the_gates_sink,
    the_ninth_was_the_fifth,
    the_seventh_comes_on_top,
    third_and_seventh_in_the_middle,
    tides,
    top_degree,
    top_moves_at_most,
    top_names,
    top_on_string,
    top_waits_then_falls,
    voices,
    walks_back,
    wide_inside_full,
    wide_over_four_strings,
)
from how_many import some
from lab.course import planned
from plain_costs import change_cost, finger_work, own_cost

from listener.cli import main
from listener.data import data_folder, shared_table
from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.errors import DrillError, PlanError
from listener.following.pace import Anchor
from listener.guitar.fingering import Fingering
from listener.guitar.grip import sensible_grips
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take
from listener.judging.singing import TOP, singing
from listener.judging.take import judge_take
from listener.judging.verdict import HIT
from listener.music.voicing import SPREAD
from listener.planning.easier import worst_strain
from listener.planning.plan import PlannedStep
from listener.planning.planner import plan_drill
from listener.planning.report import report
from listener.screen.plan.drill_view import drill_view
from listener.screen.theme import theme_for
from listener.simulation.player import Player
from listener.simulation.simulated import simulate

NAMES: Final = bundled_drills()
EARLY: Final = NAMES[:6]
HANDS: Final = ("small", "medium", "large")
FAULTLESS: Final = Player(slip_shares={})
#: Drills whose plans are looked at: all under a medium hand, and some at least under the others.
LOOKED_AT: Final = {"small": some(NAMES), "medium": list(NAMES), "large": some(NAMES, first=2)}
HELD: Final = [(name, hand) for name in NAMES for hand in HANDS if name in LOOKED_AT[hand]]
#: The medium hand's limits over the small one's (shared/hands.toml): what a shape's strain grows by.
HANDS_APART: Final = 90 / 80
HEAD = 'title = "t"\nkey = "C major"\n'


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


@pytest.mark.parametrize(
    ("name", "hand"), [(name, hand) for number, hand in enumerate(HANDS) for name in some(NAMES, first=number, each=8)]
)
def test_every_drill_played_without_mistakes_is_all_hits(name: str, hand: str) -> None:
    """The simulated player makes no slip, with the click and at the drill's own tempo: every step is a hit."""
    if not playable(name, hand):
        name = load_drill(name).instead
    plan = planned(name, hand)
    pickup = make_pickup("per-string")
    messages = simulate(
        plan, seed=11, pickup=pickup, tempo=plan.drill.tempo, first_beat_s=2.0, player=FAULTLESS
    ).messages
    verdicts = judge_take(plan, pickup, Take(messages, (), None), Anchor(0, 2.0, plan.drill.tempo))
    assert [verdict.step for verdict in verdicts] == list(range(len(plan.steps)))
    assert {verdict.grade for verdict in verdicts} == {HIT}


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


#: The diminished seventh in drop 2 on the high strings, which a flat nine without its root is, too: string, fret.
DIMINISHED: Final = ((4, 0), (3, 1), (2, 0), (1, 1))
#: What the text of a drill claims, as far as a program can tell: looked at in the plan of every hand.
CLAIMS: Final[dict[str, tuple[Claim, ...]]] = {
    "paddock-gate": (wide_inside_full("narrow"), inversion("only", 0), voices("only", 3), frets_between("", 0, 3)),
    "ferry-landing": (
        kinds_are("everyday", "full"), inversion("wide, root", 0), no_move_wider_than(3, "wide, nearest"),
    ),
    "dry-stone-wall": (
        wide_inside_full("barred"), barre_and_three_strings("barred"), no_open_strings(),
        full_and_wide_on("barred and wide, from string 6", (6, 5, 4, 3, 2, 1), (6, 5, 3)),
        full_and_wide_on("barred and wide, from string 5", (5, 4, 3, 2, 1), (5, 4, 2)),
    ),
    "low-tide": (
        *tides(6), one_shape("root"), one_shape("third"), one_shape("fifth"), only_taught_shapes("one chord"),
        same_way_back("one chord"), bass_on_string("one chord", 6), no_open_strings(),
    ),
    "half-tide": (
        *tides(5), one_shape("root"), one_shape("third"), one_shape("fifth"), only_taught_shapes("one chord"),
        same_way_back("one chord"), bass_on_string("one chord", 5), no_open_strings(),
    ),
    "high-tide": (
        *tides(4), one_shape("root"), one_shape("third"), one_shape("fifth"), same_way_back("one chord"),
        bass_climbs_and_comes_back("one chord"), all_inversions("one chord", 0, 1, 2),
    ),
    "windmill-sails": (
        bass_climbs_and_comes_back(""), same_way_back("spread"), on_strings("close", 3, 2, 1),
        kinds_are("close", "close"), kinds_are("spread", SPREAD), frets_between("spread, low", 0, 4),
    ),
    "wicket-gate": (
        only_the_middle_moves("in and out"), degrees_in_order("only", "1", "7", "3"), top_waits_then_falls("two"),
    ),
    "herring-nets": (
        the_seventh_comes_on_top("three voices"), the_seventh_comes_on_top("the stretch"),
        degrees_in_order("only", "1", "5", "3", "7"), span("only", 21, 23),
    ),
    "lighthouse-stairs": (
        scale_on_top(""), top_degree("", "3"), a_tenth_over_the_bass(""), bass_on_string("bass on string 6", 6),
        bass_on_string("bass on string 5", 5), frets_between("across", 4, 9),
    ),
    "orchard-rows": (
        scale_on_top(""), top_degree("fifth", "5"), bass_degree("fifth", "3"), top_degree("root", "1"),
        bass_degree("root", "5"),
    ),
    "three-barns": (one_note_waits_and_two_step, at_home("barn", first=True), voices("", 3)),
    "four-oars": (no_move_wider_than(4), shared_notes_stay(), voices("", 3)),
    "mill-verse": (top_names("", "F# D B C#"), top_degree("", "3"), all_voices_the_same_way("")),
    "wind-vane": (
        top_names("", "D E G A"), top_degree("", "5"), bass_degree("spread", "3"), on_strings("close", 4, 3, 2),
        on_strings("spread", 6, 4, 3),
    ),
    "mooring-posts": (
        top_names("", "F A Bb G C Bb G F"), top_degree("", "1"), bass_degree("spread", "5"),
        on_strings("close", 3, 2, 1), on_strings("spread", 5, 3, 1),
    ),
    "harbour-lullaby": (shared_notes_stay(last_bars=(8, 16)), rounds_alike(2), at_home(first=True)),
    "lamp-in-the-window": (finger_stays("the lamp", -1), finger_stays_while_the_top_does("as long")),
    "swing-gate": (only_the_top_moves(""),),
    "kite-string": (higher_and_down_again("rising", "higher"), kinds_are("", SPREAD)),
    "barn-waltz": (kinds_are("", SPREAD), at_home()),
    "mill-verse-in-the-rain": (top_names("", "C B A G#"), top_degree("", "3"), all_voices_the_same_way("")),
    "winter-well": (leading_tone_in_the_bass,),
    "quarry-path": (
        scale_on_top("natural"), scale_on_top("harmonic", widest=3), top_degree("natural", "3"),
        top_degree("harmonic", "5"), qualities("harmonic", {"": 2, "m": 2, "dim": 2, "aug": 1}),
    ),
    "grey-heron": (finger_stays(), scale_on_top(""), bass_degree("", "1")),
    "reed-warbler": (finger_stays(), scale_on_top(""), bass_degree("", "3")),
    "old-willow": (finger_stays(), scale_on_top(""), bass_degree("", "5"), one_place_in_all_passages),
    "bell-tower": (holds_in_place, steps_up_and_back),
    "tram-bell": (on_strings("", 3, 2, 1), top_on_string("", 1), voices("", 3)),
    "loom-shed": (
        top_moves_at_most(1, ""), finger_stays_while_the_top_does(""), kinds_are("", SPREAD), strokes_in_a_bar(3),
        rounds_alike(2),
    ),
    "market-square": (in_turn(SPREAD, "close"), wide_over_four_strings()),
    "cider-fair": (
        top_degree("verse", "3"), voices("verse", 3), every_string_it_has("chorus"), at_home("chorus", first=True),
        picked_and_strummed("verse", "chorus"),
    ),
    "dew-pond": (one_note_joins_under_the_third("without"), degrees_in_order("all", "1", "5", "9", "3")),
    "cellar-steps": (
        bass_names("triads", "D C# B A G F# E A"), top_moves_at_most(2, "triads"), only_the_bass_moves("only", 5),
    ),
    "two-banks": (contrary_motion("walking"), walks_back("walking"), bass_names("over", "G G G G G G G G")),
    "hilltop-fires": (no_open_strings(), handed_on(most=3)),
    "milk-float-shells": (sevenths_fall_to_thirds(""), bass_on_strings("", 6, 5), top_degree("with", "9", "13")),
    "threshing-floor": (
        sevenths_fall_to_thirds("verse"), voices("verse", 3), voices("chorus", 5, 6), every_string_it_has("chorus"),
        mostly_barres("chorus", 1), picked_and_strummed("verse", "chorus"), bass_on_strings("", 6, 5),
    ),
    "rope-ladder": (
        scale_on_top("seventh", down=False), scale_on_top("third", up=False), top_degree("seventh", "7"),
        top_degree("third", "3"), on_strings("seventh", 4, 3, 2, 1), on_strings("third", 5, 4, 3, 2),
    ),
    "toll-house": (in_turn(SPREAD, "drop 2"), no_top_skip_wider_than(5), at_home(first=True)),
    "smithy-door": (
        a_silent_string_over_the_bass(), bass_on_string("bass on string 6", 6), bass_on_string("bass on string 5", 5),
        inversion("bass", 0), at_home(first=True),
    ),
    "canal-gates": (the_gates_sink, at_home()),
    "stepping-stones": (
        bass_walks("the bass", 1, -7), in_shape("on the high", "dim7", DIMINISHED),
    ),
    "bead-string": (one_bead_at_a_time("falling"), back_after(4, "four")),
    "twelve-mile-road": (one_holds_and_the_others_sink("twelve"), on_strings("", 4, 3, 2, 1), no_move_wider_than(4)),
    "honey-store": (
        top_degree("root", "9"), bass_degree("root", "1"), voices("", 4), the_ninth_was_the_fifth(""),
        kept_on_top_from_fifth_to_ninth("a bass"),
    ),
    "jetty-lanterns": (
        bass_degree("root", "1"), top_degree("root", "9", "11", "13"), voices("", 4), no_move_wider_than(4, "when"),
    ),
    "thorn-hedge": (
        flat_nines_go_home("root"), bass_degree("root", "1"), voices("", 4), in_shape("a bass", "7b9", DIMINISHED),
    ),
    "corn-loft": (one_rung_higher_each_round(4, "5", "7", "9", "11", "13"), bass_degree("", "1")),
    "far-shore": (voices("", 5), bass_degree("", "1"), third_and_seventh_in_the_middle("")),
    "boat-builders": (
        degrees_in_order("keel", "1", "5", "3", "7"), scale_on_top("keel", down=False), span("keel", 21, 23),
        bass_on_string("keel, from string 6", 6), bass_on_string("keel, from string 5", 5),
        all_inversions("turned", 0, 1, 2, 3),
    ),
    "drove-road": (no_pattern_in_the_kinds, at_home(), kinds_are("", "shell", "drop 2", "drop 3")),
    "evening-at-the-weir": (highest_note_twice(17, 24), home_at(16, 32)),
    "the-ropewalk": (
        voices("verse", 3), voices("chorus", 5, 6), mostly_barres("chorus", 0.75), at_home("chorus", first=True),
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "claim", "hand"),
    [
        pytest.param(name, claim, hand, id=f"{name}-{number}-{claim.__qualname__.partition('.')[0]}-{hand}")
        for name, hand in HELD
        for number, claim in enumerate(CLAIMS[name])
    ],
)
def test_the_text_keeps_its_word(name: str, claim: Claim, hand: str) -> None:
    """What a drill says of itself holds for the plan of every hand."""
    claim(planned(name, hand))


def test_every_drill_is_held_to_its_word() -> None:
    """The table has every drill, in the order of the course."""
    assert tuple(CLAIMS) == NAMES


@pytest.mark.parametrize(("name", "hand"), HELD)
def test_no_plan_of_the_course_stumbles(name: str, hand: str) -> None:
    """No lower note on a higher string, no open string under a hand from the fifth fret on, no minor ninth over the
    bass where a dominant seventh comes home, and full shapes have the asked note at the bottom."""
    steps = planned(name, hand).steps
    for one in steps:
        shape = one.fingering
        assert list(shape.strings) == sorted(shape.strings, reverse=True)
        assert 0 not in shape.frets or min((fret for fret in shape.frets if fret), default=0) < 5
        if one.step.wish.kinds == ("full",):
            chord = one.voicing.chord
            assert shape.pitches[0] % 12 == (chord.bass or chord.root).pitch_class
    for one, two in pairwise(steps):
        fifth_down = (two.voicing.chord.root.pitch_class - one.voicing.chord.root.pitch_class) % 12 == 5
        if fifth_down and {"3", "b7"} <= set(one.voicing.chord.quality.degrees):
            assert 1 not in {(pitch - two.voicing.midi[0]) % 12 for pitch in two.voicing.midi}


@pytest.mark.parametrize(
    "hand", ["medium", *(pytest.param(hand, marks=pytest.mark.slow) for hand in ("small", "large"))]
)
@pytest.mark.parametrize("name", NAMES)
def test_no_finger_lets_go_of_a_note_that_it_could_keep_for_nothing(name: str, hand: str) -> None:
    """Wherever a note that stays changes its finger, every other way to hold that shape costs something else."""
    plan = planned(name, hand)
    shapes = [one.fingering for one in plan.steps]
    minds = [replace(one.step.weights, refinger=0.0) for one in plan.steps]
    around = len(shapes) if plan.drill.loop else 0

    def lost_and_paid(index: int, shape: Fingering) -> tuple[int, float]:
        """Fingers that let go around a step held so, and what else the step and the changes there cost."""
        mind, wish = minds[index], plan.steps[index].step.wish
        lost, paid = 0, own_cost(shape, mind, wish)
        if index or around:
            lost += finger_work(shapes[index - 1], shape)["refinger"]
            paid += change_cost(shapes[index - 1], shape, mind)
        if index + 1 < len(shapes) or around:
            after = (index + 1) % len(shapes)
            lost += finger_work(shape, shapes[after])["refinger"]
            paid += change_cost(shape, shapes[after], minds[after])
        return lost, paid

    for index, shape in enumerate(shapes):
        lost, paid = lost_and_paid(index, shape)
        places = list(zip(shape.strings, shape.frets, strict=True))
        for other in sensible_grips(make_instrument(), make_hand(hand), places) if lost else ():
            fewer, price = lost_and_paid(index, other)
            assert fewer >= lost or price > paid + 1e-6, f"step {index + 1}: {shape.fingers} could be {other.fingers}"


SINGABLE = (
    "barn-waltz", "harbour-lullaby", "kite-string", "lamp-in-the-window", "loom-shed", "mill-verse-in-the-rain",
    "mooring-posts", "the-ropewalk", "tram-bell", "two-banks",
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
    assert min(len(one.voicing.midi) for one in chorus) >= 5
    assert (chorus[0].step.bar, chorus[-1].step.bar) == (17, 32)
