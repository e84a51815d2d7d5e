"""The plan on paper: shapes, tab, voices and movement, against the plan's own numbers."""

from __future__ import annotations

import io
import json
from collections.abc import Callable

import pytest
from rich.cells import cell_len
from rich.console import Console

from listener.commands.plan import PIPED_WIDTH, run
from listener.planning.plan import Plan
from listener.screen.plan_view import plan_view
from listener.screen.tab import tab_rows
from listener.screen.theme import Theme


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
    assert "top A4 1 A4 5 B4 3 E4 3 A4 ♭3 F♯4 5 E4 1 A4 ♯11" in lines
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
