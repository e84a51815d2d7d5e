"""The vocabulary in a terminal: it fits, brackets and words say what a colour would, and nothing is left out."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.vocabulary.map import empty_beside
from listener.history.vocabulary.vocabulary import Used, Vocabulary
from listener.music.voicing import KINDS, OTHER
from listener.planning.shapes.cells import Cell, cells_there_are
from listener.screen.progress.vocabulary_maps import cell_words, title, vocabulary_rows
from listener.screen.rows import Row, row_width
from listener.screen.theme import Theme

THERE_ARE = cells_there_are(make_instrument(), make_hand("medium"))
PLAIN, RICH = Theme(ascii_only=True), Theme()


def used(kind: str, inversion: int | None, strings: tuple[int, ...], chords: int, root: int = 0) -> Used:
    return Used(Cell(kind, inversion, strings), "maj", root, chords)


MINE = Vocabulary(
    (
        used("spread", 0, (6, 4, 2), 120),
        used("spread", 0, (6, 4, 2), 30, 7),
        used("spread", 1, (6, 4, 3), 4, 5),
        used("full", 0, (5, 4, 3, 2, 1), 40),
        used("full", None, (6, 5, 4, 3), 2),
        Used(Cell("drop 2", 3, (5, 4, 3, 2)), "m7", 10, 12),
        Used(Cell("other", 0, (6, 1)), "13", 3, 9),
        used("close", 2, (), 3),
    ),
    takes=7,
    unheard=2,
)
SETS = st.lists(st.integers(1, 6), unique=True, max_size=6)
VOCABULARIES = st.lists(
    st.builds(
        Used,
        st.builds(Cell.of, st.sampled_from([*KINDS, OTHER]), st.none() | st.integers(0, 5), SETS),
        st.sampled_from(["maj", "m7", "13"]),
        st.integers(0, 11),
        st.integers(1, 2_000_000),
    ),
    max_size=40,
).map(lambda found: Vocabulary(tuple(found), takes=3))


def text(rows: Sequence[Row]) -> list[str]:
    return ["".join(segment.text for segment in cells).rstrip() for cells in rows]


def shown(width: int, theme: Theme = RICH, vocabulary: Vocabulary = MINE) -> list[str]:
    return text(vocabulary_rows(vocabulary, THERE_ARE, width, theme))


@given(VOCABULARIES, st.sampled_from([40, 60, 80, 100, 140, 200]), st.booleans())
def test_everything_fits(found: Vocabulary, width: int, plain: bool) -> None:
    """No row is wider than the terminal; ASCII is ASCII; nothing at all without a chord."""
    rows = vocabulary_rows(found, THERE_ARE, width, PLAIN if plain else RICH)
    assert bool(rows) == bool(found.chords)
    assert all(row_width(cells) <= width for cells in rows)
    assert not plain or all(line.isascii() for line in text(rows))


def test_at_80_columns() -> None:
    """Kinds one under the other: what is used a lot in brackets, a little bare, never a dot, nothing where no hand has
    room; then roots in fifths and the same in words."""
    lines = shown(80)
    first = lines.index("spread: 154 chords")
    assert lines[first : first + 5] == [
        "spread: 154 chords",
        "             6-5-3 6-4-3 6-4-2 5-4-2 5-3-2 5-3-1 4-3-1 4-2-1",
        "  root          ·     ·  [150]    ·           ·     ·     ·",
        "  first inv     ·     4     ·     ·     ·     ·     ·     ·",
        "  second inv    ·     ·     ·     ·           ·     ·     ·",
    ]
    assert lines[0] == "Triads 90 %, sevenths and sixths 5 %, ninths and up 4 %."
    roots = lines.index("roots, in fifths")
    assert lines[roots + 1].split() == ["C", "G", "D", "A", "E", "B", "F♯", "D♭", "A♭", "E♭", "B♭", "F"]
    assert lines[roots + 2] == "   [165] [ 30]    ·     ·     ·     ·     ·     ·     ·     9  [ 12]    4"
    full = lines.index("full: 42 chords")
    assert lines[full + 1].split() == ["6543", "65432", "654321", "5432", "54321", "4321"]  # no room for hyphens
    words = " ".join(lines)
    assert "Other spacings, without a name: 9 chords." in words
    assert "Kinds that never came: shell, drop 3, drop 2 & 4." in words
    assert "2 older takes of free playing not counted yet; to count them all now: widehand rejudge --write" in words
    assert "A lot: spread, root position, on 6-4-2 (150); full, root position, on 5-4-3-2-1 (40)" in words
    assert "Never, and one step beside: " in words
    assert title(MINE) == "Your vocabulary: 220 chords in 7 takes"


def test_at_140_columns() -> None:
    """Kinds stand side by side, and the picture is shorter; it says the same."""
    narrow, wide = shown(80), shown(140)
    assert len(wide) < len(narrow)
    assert any("close: 3 chords" in line and "spread: 154 chords" in line for line in wide)
    for sign in (r"\[ *\d+\]", "·", "chords?"):
        assert sorted(re.findall(sign, "\n".join(narrow))) == sorted(re.findall(sign, "\n".join(wide)))


def test_in_ascii() -> None:
    """The same with a point, and the names of notes spelled out."""
    lines = shown(80, PLAIN)
    assert "  root          .     .  [150]    .           .     .     ." in lines
    assert any(line.split() == ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"] for line in lines)


def test_strings_that_are_not_known_and_foreign_basses() -> None:
    """They have a column and a row of their own, after the others."""
    lines = shown(80)
    close = lines.index("close: 3 chords")
    assert lines[close + 1].split() == ["6-5-4", "5-4-3", "4-3-2", "3-2-1", "?"]
    assert lines[close + 4].split()[-1] == "3"
    assert any(line.split()[:2] == ["other", "bass"] for line in lines)


def test_what_lies_beside() -> None:
    """Only cells that there are, that never came, beside one that is used a lot; a single take has them too."""
    found = empty_beside(MINE, THERE_ARE)
    assert Cell("spread", 1, (6, 4, 2)) in found
    assert Cell("spread", 0, (5, 3, 1)) in found
    assert Cell("spread", 1, (6, 4, 3)) not in found
    assert set(found) <= THERE_ARE
    one = Vocabulary((used("spread", 0, (6, 4, 2), 9),), takes=1)
    assert empty_beside(one, THERE_ARE) == empty_beside(Vocabulary(one.used), THERE_ARE) != ()
    assert empty_beside(Vocabulary((used("spread", 0, (6, 4, 2), 7),)), THERE_ARE) == ()


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (Cell("drop 2", 3, (5, 4, 3, 2)), "drop 2, third inversion, on 5-4-3-2"),
        (Cell("full", None, ()), "full, foreign bass"),
        (Cell("close", 0, (4, 3, 2)), "close, root position, on 4-3-2"),
    ],
)
def test_cells_in_words(cell: Cell, words: str) -> None:
    """As a teacher names them."""
    assert cell_words(cell) == words
