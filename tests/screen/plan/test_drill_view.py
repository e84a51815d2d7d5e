"""A drill drawn: its words and its chart, at any width, in ASCII too."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from listener.drill.drill import Drill
from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.screen.plan.drill_view import drill_view
from listener.screen.theme import Theme

HEAD = 'title = "T"\nkey = "C major"\n'


def drawn(drill: Drill, width: int = 80, *, ascii_only: bool = False, exercises: dict[str, str] | None = None) -> str:
    out = io.StringIO()
    picture = drill_view(drill, width=width, theme=Theme(ascii_only=ascii_only), exercises=exercises)
    Console(file=out, width=width, no_color=True).print(picture, crop=False, soft_wrap=True)
    return out.getvalue()


def chart(text: str) -> list[str]:
    """The rows between bar lines, single spaces."""
    return [" ".join(line.split()) for line in text.splitlines() if "│" in line]


def test_bars_by_hand() -> None:
    """Four bars to a row, each with its number; rests and held bars are seen."""
    drill = read_drill(f'{HEAD}[[passage]]\nchords = "C | Am7 D7/F# | G | . | N.C. F | Bb"\n', "t")
    assert chart(drawn(drill)) == ["1 │ C │ Am7 D7/F♯ │ G │ · │", "5 │ N.C. F │ B♭ │"]


def test_the_heading_says_what_it_is() -> None:
    """Passage, exercise and kind; nothing is said twice."""
    drill = read_drill(f'{HEAD}[[passage]]\nname = "spread"\nchords = "C | F"\nkind = "spread"\n', "t")
    text = drawn(drill, exercises={"spread": "progression"})
    assert " spread, progression " in text
    assert "2 chords in 2 bars" in text


def test_how_its_chords_are_struck() -> None:
    """A drill that wants them together says within how long; another one says nothing of it."""
    passage = '[[passage]]\nchords = "C | F"\n'
    assert "every chord struck together, within 60 ms" in drawn(read_drill(f"{HEAD}together_ms = 60\n{passage}", "t"))
    assert "together" not in drawn(read_drill(HEAD + passage, "t"))


def test_how_its_chords_are_touched() -> None:
    """What a passage asks stands beneath its name; where it asks nothing, nothing does."""
    passages = '[[passage]]\nchords = "C"\nlevel = "quiet"\n[[passage]]\nchords = "F"\nlevel = "loud"\nring = false\n'
    text = drawn(read_drill(f'{HEAD}ring = true\nbalance = "top"\n{passages}', "t"))
    assert "every voice held to the change; the top voice stands out; quiet" in text
    assert "  the top voice stands out; loud" in text
    assert "held to the change" not in drawn(read_drill(HEAD + '[[passage]]\nchords = "C | F"\n', "t"))


@pytest.mark.parametrize("name", bundled_drills())
def test_every_drill_fits(name: str) -> None:
    """At 60, 80 and 140 columns no line is wider than that, and every bar of the course's drills is drawn; plain ASCII
    where only that can be shown."""
    drill = load_drill(name)
    for width in (60, 80, 140):
        text = drawn(drill, width)
        assert max(map(len, text.splitlines())) <= width
    assert drawn(drill, ascii_only=True).isascii()


def test_hostile_texts_are_harmless() -> None:
    """A title that would steer a terminal is drawn as text; a long word is cut."""
    drill = load_drill("mill-verse")
    text = drawn(replace(drill, title="a\x1b[2Jb", topic="x" * 300))
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_pattern_is_told_in_words() -> None:
    """Under the heading of its passage, and nowhere else."""
    drill = read_drill(
        f'{HEAD}[[passage]]\nname = "one"\nchords = "C"\npattern = {{ strum = "d u" }}\n'
        '[[passage]]\nname = "two"\nchords = "C"\n',
        "t",
    )
    lines = drawn(drill, ascii_only=True).splitlines()
    at = next(index for index, line in enumerate(lines) if " one" in line)
    assert lines[at + 1] == "  strummed in eighths, anew in each bar: down, up"
    assert "".join(lines).count("strummed") == 1
