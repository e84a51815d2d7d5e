"""Spelling, ASCII fallback and big letters."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.music.chord import parse_chord
from listener.music.quality import qualities
from listener.screen.big import _LETTERS, big_height, big_name
from listener.screen.rows import cut, ends, fit, row, row_width, rule, wrapped
from listener.screen.theme import ASCII, UNICODE, Theme, printable, theme_for, to_ascii, with_signs


@pytest.mark.parametrize(
    ("encoding", "ascii_only"),
    [
        ("utf-8", False),
        ("UTF-16", False),
        ("ascii", True),
        ("latin-1", True),
        ("cp437", True),
        (None, True),
        ("?", True),
    ],
)
def test_theme_follows_the_encoding(encoding: str | None, ascii_only: bool) -> None:
    """Only an encoding that can show all our signs gets them."""
    assert theme_for(encoding).ascii_only is ascii_only


def test_signs_are_one_cell_wide_and_tell_grades_apart() -> None:
    """Every sign takes one cell in both sets; the three grades differ; the ASCII set is ASCII."""
    for signs in (UNICODE, ASCII):
        values = [getattr(signs, name) for name in signs.__slots__]
        assert {row_width(row(value)) for value in values} == {1}
        assert len({signs.hit, signs.near, signs.miss}) == 3
    assert "".join(getattr(ASCII, name) for name in ASCII.__slots__).isascii()


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Bb4", "B♭4"), ("F#m7b5/Eb", "F♯m7♭5/E♭"), ("the b7", "the ♭7"), ("C##3", "C♯♯3"), ("Bbmaj7", "B♭maj7"),
        ("Ebsus4", "E♭sus4"),
        ("a bass note", "a bass note"), ("Abbey", "Abbey"), ("about 5", "about 5"), ("number 4", "number 4"),
    ],
)  # fmt: skip
def test_real_flats_and_sharps(text: str, shown: str) -> None:
    """Notes, chords and degrees get real signs; words keep their letters."""
    assert with_signs(text) == shown


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Cø7", "Cm7b5"),
        ("Cø", "Cm7b5"),
        ("CΔ7", "Cmaj7"),
        ("C°7", "Cdim7"),
        ("B♭", "Bb"),
        ("Café", "Cafe"),
        ("夜", "?"),
    ],
)
def test_ascii_keeps_the_meaning(text: str, shown: str) -> None:
    """What a sign means is spelled out in ASCII."""
    assert to_ascii(text) == shown


@given(st.text())
def test_printable_is_one_safe_line(text: str) -> None:
    """No control, format or line-breaking character survives, and nothing else is touched."""
    shown = printable(text)
    assert shown.isprintable()
    assert len(shown) == len(text)
    assert to_ascii(shown).isascii()


@given(st.text(max_size=60), st.integers(0, 40))
def test_rows_keep_their_width(text: str, width: int) -> None:
    """Any text, wide characters too, is cut or padded to exactly the width asked for."""
    theme = Theme()
    shown = theme.words(text)
    assert row_width(fit(row(shown), width, theme)) == width
    assert row_width(ends(row(shown), row(shown), width, theme)) == width
    assert row_width(row(cut(shown, width, theme))) <= width
    assert width < 6 or row_width(rule(shown, width, theme)) == width


@given(st.lists(st.text("abcdef", min_size=1, max_size=12), max_size=12), st.integers(12, 40), st.integers(1, 4))
def test_wrapping_loses_nothing_silently(words: list[str], width: int, lines: int) -> None:
    """Wrapped text either holds every word or ends with the sign that there was more."""
    text = " ".join(words)
    shown = wrapped(text, width, lines, Theme())
    assert len(shown) <= lines
    assert all(len(line) <= width for line in shown)
    assert " ".join(shown) == text or shown[-1].endswith("…")


def test_letters_are_rectangles_of_five_rows() -> None:
    """Each letter of the big alphabet has five rows of one width."""
    for letter, drawing in _LETTERS.items():
        rows = drawing.split(" ")
        assert len(rows) == 5, letter
        assert len({len(line) for line in rows}) == 1, letter
        assert set("".join(rows)) <= {"#", "."}, letter


def test_every_chord_of_the_table_can_be_written_large() -> None:
    """All qualities on the widest root are drawn in big letters when there is room."""
    for quality in qualities():
        symbol = f"F#{quality.symbol}"
        parse_chord(symbol)
        assert big_height(symbol, 200, 5, Theme()) == 5, symbol
        assert big_height(symbol, 200, 3, Theme()) == 3, symbol


@pytest.mark.parametrize("name", ["C", "F#m7b5/E", "Ebmaj7#11(13)/Bb", "C" * 40, "Xyz", "夜", ""])
@pytest.mark.parametrize("ascii_only", [False, True])
def test_big_names_fit_whatever_they_are(name: str, ascii_only: bool) -> None:
    """Any name, known or not, fits the room and takes exactly the height."""
    theme = Theme(ascii_only=ascii_only)
    for width in (1, 8, 20, 39, 80):
        for height in (1, 2, 3, 5, 8):
            rows = big_name(theme.words(name), width, height, theme)
            assert len(rows) == height
            assert all(row_width(cells) <= width for cells in rows)


def test_a_long_name_keeps_a_big_root() -> None:
    """Where the whole does not fit, the root is still large and the rest is all there."""
    rows = big_name("Ebmaj7#11/Bb", 38, 3, Theme())
    text = "\n".join("".join(part.text for part in cells) for cells in rows)
    assert "█" in text
    assert "maj7♯11/B♭" in text
