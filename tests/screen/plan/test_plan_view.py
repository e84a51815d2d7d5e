"""The plan on paper: shapes, tab, voices and movement, against the plan's own numbers."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from listener.commands.looking.plan import PIPED_WIDTH, run
from listener.drill.drill import NoteWish
from listener.music.movement import movement
from listener.planning.plan import Plan
from listener.planning.report import PlanReport, Totals
from listener.screen.plan.folding import stretches
from listener.screen.plan.plan_view import plan_view
from listener.screen.plan.report_rows import meaning, report_rows
from listener.screen.plan.tab import tab_rows
from listener.screen.rows import row_width
from listener.screen.theme import Theme, with_signs


def _text(plan: Plan, width: int = 80, theme: Theme | None = None) -> str:
    picture = plan_view(plan, width=width, theme=theme or Theme())
    return "\n".join("".join(part.text for part in cells) for cells in picture.rows)


def test_tab_by_hand(verse: Plan) -> None:
    """The eight chords as tab: bars divided, names above, the fret of every string where it belongs."""
    lines = ["".join(part.text for part in cells) for cells in tab_rows(verse, 80, Theme(ascii_only=True))]
    assert lines == [
        "    1          2           3               4",
        "    Am7  D7    Gmaj7 C     F#m7b5 B7b9/D#  Em   Ebmaj7#11",
        "E  |--5----5--|--7--------|---------------|--0----5-------|",
        "B  |--5----3--|--7-----5--|-10------7-----|--0----8-------|",
        "G  |--5----5--|--7--------|--9------5-----|--0----7-------|",
        "D  |--5----4--|--5-----5--|-10------7-----|--2------------|",
        "A  |----------|--------3--|--9------6-----|--2----6-------|",
        "E  |----------|-----------|---------------|--0------------|",
    ]


@pytest.mark.parametrize("width", [60, 80, 100, 140])
def test_nothing_is_wider_than_asked(verse: Plan, eights: Plan, fours: Plan, width: int) -> None:
    """Shapes, tab, voices and table wrap or fit; no line ends in blanks; every chord and finger is there."""
    for plan in (verse, eights, fours):
        for theme in (Theme(), Theme(ascii_only=True), Theme(left_handed=True)):
            lines = _text(plan, width, theme).split("\n")
            assert max(map(cell_len, lines)) <= width
            assert all(line == line.rstrip() for line in lines)
            text = "\n".join(lines)
            for planned in plan.steps:
                assert text.count(f"{planned.step.index + 1} {theme.chord(planned.voicing.chord)}") >= 2
            fingers = sum(fret > 0 for planned in plan.steps for fret in planned.fingering.frets)
            # Fingers of the shapes: brackets around one digit, (1) or [1].
            shapes = text[: text.index(" tab ")]
            assert sum(shapes.count(f"({n})") + shapes.count(f"[{n}]") for n in range(1, 5)) == fingers


def test_voices_and_movement_are_the_plans(verse: Plan) -> None:
    """Top line, signed voices from the top, sums and the words for the largest move."""
    lines = [" ".join(line.split()) for line in _text(verse, 140).split("\n")]
    tops = [f"{planned.voicing.top} {planned.voicing.degrees[-1]}" for planned in verse.steps]
    line = next(line for line in lines if line.startswith("top "))
    assert re.sub(r"[─╱╲]+\d*[─]*", " ", line).split() == ["top", *with_signs(" ".join(tops)).split()]
    assert "2 Am7 → D7 3 0 -2 0 -1 2 2 step" in lines
    assert "3 D7 → Gmaj7 9 +2 +4 +2 +1 0 4 skip" in lines
    assert "4 Gmaj7 → C 2 +2 0, 1 in, 2 out 1 2 step" in lines
    total = sum(planned.movement.semitones for planned in verse.steps if planned.movement)
    assert total == verse.total_movement
    assert any(f"{total} semitones of movement" in line for line in lines)


def test_a_plan_of_one_chord(plan_from: Callable[..., Plan]) -> None:
    """One chord has no movement, and says nothing about it."""
    text = _text(plan_from([("C", (None, 3, 5, None, 5, None), (1, 3, 4))]))
    assert "movement" not in text
    assert text.endswith("1 chord.")


def test_command_prints_json_alone(verse: Plan) -> None:
    """With --json there is one JSON document, the plan contract, and nothing else."""
    stream = io.StringIO()
    assert run(verse, as_json=True, console=Console(file=stream)) == 0
    document = json.loads(stream.getvalue())
    assert document["total_movement"] == verse.total_movement
    assert [step["chord"] for step in document["steps"]][:2] == ["Am7", "D7"]


def test_command_piped_is_plain_and_a_hundred_wide(verse: Plan) -> None:
    """Not a terminal: no escape codes whatever the environment says about width, and ASCII where needed."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    assert run(verse, as_json=False, console=Console(file=stream, width=40, _environ={})) == 0
    stream.flush()
    text = stream.buffer.getvalue().decode("ascii")
    assert "\x1b" not in text
    assert max(len(line) for line in text.splitlines()) == PIPED_WIDTH
    assert "F#m7b5" in text


def test_command_on_a_terminal_uses_its_width(verse: Plan) -> None:
    """On a terminal the plan is as wide as the terminal."""
    stream = io.StringIO()
    console = Console(file=stream, width=80, force_terminal=True, color_system=None, _environ={})
    assert run(verse, as_json=False, console=console) == 0
    assert max(cell_len(line) for line in stream.getvalue().splitlines()) == 80


def test_a_shape_that_comes_back_is_drawn_once(plan_from: Callable[..., Plan]) -> None:
    """Every different shape once, with how often it comes; the same frets under another name are drawn again."""
    c = ("C", (None, 3, 2, 0, 1, 0), (3, 2, 0, 1, 0))
    g = ("G7", (3, 2, 0, 0, 0, 1), (3, 2, 0, 0, 0, 1))
    text = _text(plan_from([c, g, c, c]))
    shapes = text[: text.index(" tab ")]
    assert "1 C  ×3" in shapes
    assert "2 G7" in shapes
    assert "3 C" not in shapes
    assert shapes.count("G7") == 1


def test_a_spacing_without_a_name_is_called_free(plan_from: Callable[..., Plan]) -> None:
    """Only the program knows a kind called other."""
    text = _text(
        plan_from([("D/G", (3, None, 0, None, None, 2), (2, 0, 1)), ("C", (None, 3, 2, 0, 1, 0), (3, 2, 0, 1, 0))])
    )
    shapes = text[: text.index(" tab ")]
    assert "free, " in shapes
    assert "other" not in shapes


def repeated(plan_from: Callable[..., Plan], verse: Plan, times: int) -> Plan:
    """The verse (four bars) over and over, with one bar before it."""
    shapes = [("Em", (0, 2, 2, 0, 0, 0), (0, 2, 3, 0, 0, 0))] * 2
    return plan_from([*shapes, *_verse_shapes(verse) * times])


def _verse_shapes(verse: Plan) -> list[tuple[str, list[int | None], list[int]]]:
    found = []
    for planned in verse.steps:
        by_string = dict(zip(planned.fingering.strings, planned.fingering.frets, strict=True))
        finger = dict(zip(planned.fingering.strings, planned.fingering.fingers, strict=True))
        frets = [by_string.get(string) for string in range(6, 0, -1)]
        found.append((str(planned.voicing.chord), frets, [finger[s] for s in range(6, 0, -1) if s in finger]))
    return found


def test_repeated_bars_are_folded(plan_from: Callable[..., Plan], verse: Plan) -> None:
    """Four equal bars and more are named instead of shown, in tab, voices and movement; whole rounds are counted."""
    text = _text(repeated(plan_from, verse, 2))
    assert text.count("bars 6–9 as bars 2–5") == 3
    text = _text(repeated(plan_from, verse, 100), theme=Theme(ascii_only=True))
    assert text.count("bars 6-401 as bars 2-5, 99 times") == 3
    assert len(text.splitlines()) < 100


def test_the_way_into_a_repeat_is_told(plan_from: Callable[..., Plan], verse: Plan) -> None:
    """The first change of folded bars comes from another chord than the first time, so it has its row."""
    lines = _text(repeated(plan_from, verse, 3)).splitlines()
    rows = [line for line in lines[lines.index("─ movement in semitones, top voice first ".ljust(80, "─")) :] if line]
    names = [" ".join(line.split()[:4]) for line in rows]
    assert "3 Em → Am7" in names
    assert "11 E♭maj7♯11 → Am7" in names
    assert "19 E♭maj7♯11 → Am7" not in names
    assert "12 Am7 → D7" not in names


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(kinds=st.lists(st.integers(0, 2), max_size=40))
def test_folding_loses_nothing(plan_from: Callable[..., Plan], kinds: list[int]) -> None:
    """Shown and named bars are the plan's bars in order, and every named bar looks like the one that is named for it,
    which lies before."""
    shapes = [("C", (None, 3, 2, 0, 1, 0), (3, 2, 0, 1, 0)), ("G7", (3, 2, 0, 0, 0, 1), (3, 2, 0, 0, 0, 1))]
    plan = plan_from([shapes[0] if kind else shapes[1] for kind in kinds for _ in range(2)])
    found = stretches(plan)
    assert [planned.step.index for stretch in found for planned in stretch.steps] == list(range(len(plan.steps)))
    for stretch in found:
        for number, bar in enumerate(stretch.bars):
            if stretch.like:
                other = stretch.like[number % len(stretch.like)]
                assert other[0].step.index < bar[0].step.index
                assert [p.fingering for p in other] == [p.fingering for p in bar]
        assert not stretch.like or (len(stretch.bars) >= 4 and len(stretch.bars) % len(stretch.like) == 0)


def test_voices_are_lines(verse: Plan) -> None:
    """Between two chords the line is level or slants with its semitones; where voices come and go only the top is
    drawn."""
    lines = [" ".join(line.split()) for line in _text(verse, 140).split("\n")]
    assert "top A4 1 ────── A4 5 ──╱2── B4 3 ──╱5── E5 3" not in lines
    top = next(line for line in lines if line.startswith("top A4 1"))
    steps = [b.voicing.midi[-1] - a.voicing.midi[-1] for a, b in pairwise(verse.steps)]
    assert [int(n) for n in re.findall(r"[╱╲](\d+)", top)] == [abs(move) for move in steps if move]
    second = next(line for line in lines if line.startswith("2 E4 5"))
    assert "···" in second


def test_a_loop_shows_its_way_back(verse: Plan) -> None:
    """The change from the last chord to the first has its row."""
    back = replace(verse, way_back=movement(verse.steps[-1].voicing.midi, verse.steps[0].voicing.midi))
    assert "1 E♭maj7♯11 → Am7" in _text(back)
    assert "1 E♭maj7♯11 → Am7" not in _text(verse)


def other_route(plan_from: Callable[..., Plan], verse: Plan) -> Plan:
    """The verse with one chord that sounds different and one that only lies elsewhere."""
    shapes = _verse_shapes(verse)
    shapes[1] = ("D7", [None, 5, 4, 5, 3, None], [3, 2, 4, 1])
    shapes[6] = ("Em", [0, 2, 2, 4, 0, 0], [0, 1, 2, 4, 0, 0])
    return plan_from(shapes)


def test_other_routes_are_set_beside_the_plan(plan_from: Callable[..., Plan], verse: Plan) -> None:
    """What sounds different is marked, what is equal in all routes is one line, totals stand on top."""
    other = other_route(plan_from, verse)
    picture = plan_view(verse, width=80, theme=Theme(), others=(other, verse))
    lines = [" ".join("".join(part.text for part in cells).split()) for cells in picture.rows]
    start = next(index for index, line in enumerate(lines) if "2 other routes" in line)
    assert lines[start + 1] == "the plan route 2 route 3"
    change = other.total_movement - verse.total_movement
    assert f"movement {verse.total_movement} {other.total_movement} ({change:+d}) {verse.total_movement}" in lines
    assert "1 the same in all" in lines
    assert "2 D7 xx4535 A4 ≠ x5453x D4 =" in lines
    assert "3 to 6 the same in all" in lines
    assert "7 Em 022000 E4 ≠ 022400 E4 =" in lines


def test_many_routes_fit_any_width(plan_from: Callable[..., Plan], verse: Plan) -> None:
    """Twenty routes wrap into blocks, each beginning with the plan's own column; nothing is cut."""
    others = [other_route(plan_from, verse)] * 19
    for width in (60, 80, 140):
        for theme in (Theme(), Theme(ascii_only=True)):
            picture = plan_view(verse, width=width, theme=theme, others=others)
            lines = ["".join(part.text for part in cells) for cells in picture.rows]
            assert max(map(cell_len, lines)) <= width
            text = "\n".join(lines)
            assert all(f"route {number}" in text for number in range(2, 21))
            section = text[text.index("19 other routes") : text.index(" sounds different")]
            assert theme.signs.more not in section[section.index("\n") :]


def totals(**changes: Any) -> Totals:
    values: dict[str, Any] = {
        "movement": 60, "cost": 60, "voices_moved": 30, "common_kept": 12, "common_possible": 14, "largest_leap": 5,
        "travel_mm": 310.4, "worst_strain": 0.42, "voices": (),
    }  # fmt: skip
    return Totals(**{**values, **changes})


def judged(**changes: Any) -> PlanReport:
    values: dict[str, Any] = {
        "plan": totals(), "least": 40, "everyday": totals(movement=150, cost=150), "everyday_note": "",
        "greedy": totals(movement=70, cost=70), "greedy_note": "",
    }  # fmt: skip
    return PlanReport(**{**values, **changes})


def _report_text(verse: Plan, report: PlanReport, width: int = 80) -> str:
    rows = report_rows(report, verse.drill, width, Theme())
    assert all(row_width(cells) <= width for cells in rows)
    return "\n".join(" ".join("".join(part.text for part in cells).split()) for cells in rows)


def test_the_report_as_a_table(verse: Plan) -> None:
    """Four rows of the report's own numbers; the least possible has only its movement."""
    lines = _report_text(verse, judged()).splitlines()
    assert lines[:5] == [
        "movement kept largest travel strain",
        "this plan 60 12 of 14 5 310 mm 42 %",
        "least possible 40",
        "everyday shapes 150 12 of 14 5 310 mm 42 %",
        "nearest each time 70 12 of 14 5 310 mm 42 %",
    ]


SHAPES = "In everyday shapes, the top and bottom lines left aside, the voices would move"
COUNTED = "counting those that come and go"
MEANINGS = {
    "This is 1.50 times the least movement that is possible; the rest is the price of the top line and a hand that "
    f"stays near and at ease. {SHAPES} 2.50 times as far.": judged(),
    "Nobody could move the voices less through these chords in these kinds of voicing.": judged(
        least=60, everyday=None, everyday_note="there is no everyday shape of X"
    ),
    "The voices move 60 semitones where they could stand still": judged(least=0),
    f"{SHAPES} about as far.": judged(everyday=totals(movement=61, cost=61)),
    f"{SHAPES} 0.50 times as far.": judged(everyday=totals(movement=30, cost=30)),
    f"{SHAPES} 1.10 times as far, {COUNTED}.": judged(everyday=totals(movement=40, cost=66)),
    f"{SHAPES} 2.00 times as far, {COUNTED}.": judged(everyday=totals(movement=90, cost=120)),
    "Everyday shapes cannot stand beside it: there is no everyday shape of X.": judged(
        everyday=None, everyday_note="there is no everyday shape of X"
    ),
    "Taking the nearest shape each time leads nowhere here: it ends at step 3.": judged(
        greedy=None, greedy_note="it ends at step 3"
    ),
}


@pytest.mark.parametrize("sentence", MEANINGS)
def test_the_report_says_what_it_means(verse: Plan, sentence: str) -> None:
    """One plain sentence for every outcome, and why something is missing."""
    assert sentence in " ".join(_report_text(verse, MEANINGS[sentence]).split("\n"))


def test_the_report_stands_in_the_plan(verse: Plan) -> None:
    """With a report the plan says how good it is; a plan of one chord has nothing to compare."""
    text = "\n".join(
        "".join(part.text for part in cells)
        for cells in plan_view(verse, width=80, theme=Theme(), report=judged()).rows
    )
    assert "this plan beside other ways" in text
    assert "1.50 times the least" in text


def test_what_was_left_out_is_said(verse: Plan) -> None:
    """The drill's own remarks stand under its heading, and in the JSON; without any there is no field."""
    said = replace(verse, drill=replace(verse.drill, notes=("Step 9 of the scale is left out: no hand reaches it.",)))
    lines = _text(said).splitlines()
    assert lines[3] == "Step 9 of the scale is left out: no hand reaches it."
    for plan in (said, verse):
        stream = io.StringIO()
        run(plan, as_json=True, console=Console(file=stream))
        assert json.loads(stream.getvalue()).get("notes", []) == list(plan.drill.notes)


def test_without_lines_nothing_is_left_aside(verse: Plan) -> None:
    """A drill that asks for no top or bottom line pays only for the hand, and everyday shapes give nothing up."""
    steps = tuple(replace(step, wish=replace(step.wish, top=NoteWish())) for step in verse.drill.steps)
    free = meaning(judged(), replace(verse.drill, steps=steps))
    assert free == (
        "This is 1.50 times the least movement that is possible; the rest is the price of a hand that stays near and "
        "at ease. In everyday shapes the voices would move 2.50 times as far."
    )
    assert "the price of what the drill asks for" in meaning(
        judged(), replace(verse.drill, steps=steps, least_movement=True)
    )
