"""The plain-text tab: ASCII, narrow enough for a message, and the plan's pitches can be read back from it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheet_plans import COURSE_IN_PARTS, course_plan, in_turn, make_plan, planned_on

from listener.guitar.instrument import Instrument, make_instrument
from listener.planning.plan import Plan
from listener.sheets.plain_ascii import ascii_text
from listener.sheets.tab_text import tab_text


def chords_in(text: str, guitar: Instrument) -> list[tuple[list[int], int]]:
    """What the tab sounds: (pitches low to high, the pitch with a star) of each chord, read by columns."""
    lines = [line for line in text.splitlines() if re.match(r"\S+ *\|", line)]
    count = guitar.string_count
    assert len(lines) % count == 0
    found = []
    for first in range(0, len(lines), count):
        columns: dict[int, list[tuple[int, bool]]] = {}
        for string, line in enumerate(lines[first : first + count], start=1):
            for fret in re.finditer(r"(\d+)(\*?)", line[line.index("|") :]):
                sound = guitar.pitch(string, int(fret[1]))
                columns.setdefault(fret.start(), []).append((sound, bool(fret[2])))
        for _, notes in sorted(columns.items()):
            (top,) = [pitch for pitch, starred in notes if starred]
            found.append((sorted(pitch for pitch, _ in notes), top))
    return found


def planned(plan: Plan) -> list[tuple[list[int], int]]:
    """The same from the plan itself."""
    return [(list(one.voicing.midi), one.voicing.midi[-1]) for one in plan.steps]


def check_shape(text: str, width: int = 60) -> None:
    """ASCII, no line too long, no blanks at line ends, one line end at the end."""
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= width
    assert not re.search(r"[ \t]\n", text)
    assert text.endswith(".\n")


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_the_course_reads_back(name: str) -> None:
    """Every chord of every drill, in order, with its top note."""
    plan = course_plan(name)
    text = tab_text(plan)
    check_shape(text)
    if any(one.step.pattern is not None for one in plan.steps):
        pytest.skip("a picked chord is written pluck by pluck; test_patterns reads those")
    assert chords_in(text, make_instrument()) == planned(plan)


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_the_shapes_need_no_tab(name: str) -> None:
    """The list of shapes alone has every chord of the plan, in any font."""
    plan = course_plan(name)
    rows = re.findall(r"^(\S+) +((?:(?:x|\d+\*?) ){5}(?:x|\d+\*?))$", tab_text(plan), re.MULTILINE)
    guitar = make_instrument()
    listed = set()
    for symbol, frets in rows:
        sounds = [
            guitar.pitch(6 - place, int(fret.rstrip("*"))) for place, fret in enumerate(frets.split()) if fret != "x"
        ]
        listed.add((symbol, tuple(sorted(sounds))))
    assert listed == {(one.voicing.chord.symbol, one.voicing.midi) for one in plan.steps}


@pytest.mark.parametrize(
    ("tuning", "capo"), [("G3 C4 E4 A4", 0), ("F#1 B1 E2 A2 D3 G3 B3 E4", 0), ("Eb2 Ab2 Db3 Gb3 Bb3 Eb4", 2)]
)
def test_other_guitars(tuning: str, capo: int) -> None:
    """Four and eight strings, and a capo, which is named; frets count from it."""
    guitar = make_instrument(tuning, capo=capo)
    plan = planned_on(guitar, "C | Am | F | G", fields='kind = "close"')
    text = tab_text(plan)
    check_shape(text)
    assert ("capo at fret 2" in " ".join(text.split())) is bool(capo)
    assert ("from the capo" in " ".join(text.split())) is bool(capo)
    assert chords_in(text, guitar) == planned(plan)


@given(st.lists(st.integers(1, 6), min_size=1, max_size=9), st.lists(st.booleans(), max_size=9), st.integers(40, 100))
def test_any_rhythm_fits(shares: list[int], gaps: list[bool], width: int) -> None:
    """However the bar is shared, with rests, at any width: nothing is lost and nothing sticks out."""
    plan = make_plan(in_turn(shares, (4, 4), gaps))
    text = tab_text(plan, width=width)
    check_shape(text, width)
    assert chords_in(text, make_instrument()) == planned(plan)


def test_as_it_looks() -> None:
    """Two bars, worked out by hand."""
    text = tab_text(make_plan([("C", 0, 2), ("F", 2, 2), ("Em", 4, 4)], title="Mühle – B♭"))
    assert text == (
        "Muhle - Bb\n"
        "C major, 4/4, 90 beats a minute\n"
        "Tuning from the lowest string: E2 A2 D3 G3 B3 E4\n"
        "\n"
        "Shapes, lowest string first (x: not played, *: top note,\n"
        "  frets from the nut):\n"
        "C   x 3 5 x 5* x\n"
        "F   x 3 x 2 6* x\n"
        "Em  0 2 2 0 0 0*\n"
        "\n"
        "verse\n"
        "      1    .3    2\n"
        "      C    F     Em\n"
        "top   E4   F4    E4\n"
        "E   |----------|-0*--|\n"
        "B   |-5*---6*--|-0---|\n"
        "G   |------2---|-0---|\n"
        "D   |-5--------|-2---|\n"
        "A   |-3----3---|-2---|\n"
        "E   |----------|-0---|\n"
        "\n"
        "If a shape hurts, leave it out. Pain means stop.\n"
    )


@pytest.mark.parametrize(
    ("text", "plain"),
    [("Über den Hof", "Uber den Hof"), ("B♭ – F♯", "Bb - F#"), ("a\nb\tc", "a b c"), ("日本", "??"), ("ﬁn\x07", "fin")],
)
def test_ascii(text: str, plain: str) -> None:
    """Accents go, signs are spelled out, what has no letter here is a question mark."""
    assert ascii_text(text) == plain


def test_nothing_to_play() -> None:
    """A plan without steps is its heading."""
    assert "|" not in tab_text(make_plan([]))
