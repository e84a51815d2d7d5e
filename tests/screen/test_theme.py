"""Spelling, ASCII fallback and big letters."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.color import Color, ColorSystem
from rich.palette import Palette

# rich's own lists of what the 16 colours look like in xterm and in the console of Windows
from rich._palettes import STANDARD_PALETTE, WINDOWS_PALETTE  # isort: skip

from listener.judging.verdict import GRADES
from listener.music.chord import parse_chord
from listener.music.quality import qualities
from listener.safe_text import printable
from listener.screen import sparkline
from listener.screen.big import big_height, big_name
from listener.screen.rows import cut, ends, fit, row, row_width, rule, wrapped
from listener.screen.theme import ASCII, HUES, UNICODE, Theme, theme_for, to_ascii, with_signs


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
    assert theme_for(encoding, environment={}).ascii_only is ascii_only


@pytest.mark.parametrize(
    ("environment", "ascii_only"),
    [
        ({"LANG": "C"}, True),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, True),
        ({"LC_CTYPE": "C.UTF-8"}, False),
        ({"LANG": "C", "LC_CTYPE": "de_DE.UTF-8"}, False),
        ({"LC_ALL": "POSIX", "LANG": "de_DE.UTF-8"}, True),
        ({"LC_ALL": "", "LC_CTYPE": "de_DE.UTF-8", "LANG": "C"}, False),
        ({"LANG": "C.UTF-8"}, False),
        ({"TERM": "linux", "LANG": "de_DE.UTF-8"}, True),
        ({"TERM": "xterm-256color"}, False),
    ],
)
def test_a_plain_locale_gets_ascii(environment: dict[str, str], ascii_only: bool) -> None:
    """Python writes UTF-8 even under LANG=C (PEP 540), so the locale is asked; the first variable that is set counts
    (POSIX.1-2017,
    chapter 8.2), but not what Python itself has set (PEP 538)."""
    assert theme_for("utf-8", environment=environment).ascii_only is ascii_only


@pytest.mark.parametrize(("colours", "hues"), [("truecolor", True), ("256", True), ("standard", False), (None, False)])
def test_no_hue_that_cannot_be_chosen(colours: str | None, hues: bool) -> None:
    """Terminals with the 16 old colours, whose shades nobody knows, are shown bold words and signs only."""
    theme = theme_for("utf-8", colours=colours, environment={})
    assert theme.hues is hues
    for grade in GRADES:
        assert theme.grade(grade).bold
        assert hues or theme.grade(grade).color is None


def _luminance(colour: tuple[int, int, int]) -> float:
    """Relative luminance (WCAG 2.2, definitions)."""
    red, green, blue = (
        part / 255 / 12.92 if part / 255 <= 0.04045 else ((part / 255 + 0.055) / 1.055) ** 2.4 for part in colour
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Contrast ratio (WCAG 2.2, definitions)."""
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def test_contrast_by_the_book() -> None:
    """The formula: 21 to 1 for black on white, and #777777 on white is the known near miss of 4.48 to 1 (WebAIM,
    "Contrast and color accessibility")."""
    assert _contrast(BLACK, WHITE) == pytest.approx(21)
    assert _contrast((0x77, 0x77, 0x77), WHITE) == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("ground", [BLACK, WHITE], ids=["dark", "light"])
@pytest.mark.parametrize("grade", list(HUES))
def test_hues_can_be_read_on_dark_and_on_light(grade: str, ground: tuple[int, int, int]) -> None:
    """4.5 to 1 (WCAG 2.2, 1.4.3) as we set them; on 256 colours, where rich takes the nearest, hardly less. Reversed it
    is the same."""
    colour = Color.parse(HUES[grade])
    assert _contrast(tuple(colour.get_truecolor()), ground) >= 4.5
    nearest = colour.downgrade(ColorSystem.EIGHT_BIT)
    assert _contrast(tuple(nearest.get_truecolor()), ground) >= 4.4


@pytest.mark.parametrize("palette", [STANDARD_PALETTE, WINDOWS_PALETTE], ids=["xterm", "windows"])
def test_none_of_sixteen_colours_would_do(palette: Palette) -> None:
    """Why there are none on such terminals: none of their usual shades reaches 4.5 to 1 on black and white alike."""
    shades = [palette[number] for number in range(16) if len(set(palette[number])) > 1]  # greys are no hues
    assert not [shade for shade in shades if min(_contrast(tuple(shade), BLACK), _contrast(tuple(shade), WHITE)) >= 4.5]


#: How people see without one kind of cone, on linear RGB: G. Machado, M. Oliveira and L. Fernandes, IEEE Transactions
#: on Visualization and Computer Graphics 15 (2009), table 1, severity 1.0; values from memory.
_BLINDNESS = {
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}  # fmt: skip


def _linear(colour: tuple[int, int, int]) -> list[float]:
    return [part / 255 / 12.92 if part <= 10 else ((part / 255 + 0.055) / 1.055) ** 2.4 for part in colour]


@pytest.mark.parametrize("kind", list(_BLINDNESS))
def test_hues_differ_for_colour_blind_eyes(kind: str) -> None:
    """Seen without one kind of cone, hit and near stay as far apart as a hundredth of white is from black, many times
    over."""
    seen = [
        [sum(weight * part for weight, part in zip(row_, _linear(tuple(Color.parse(hue).get_truecolor())), strict=True))
         for row_ in _BLINDNESS[kind]]
        for hue in HUES.values()
    ]  # fmt: skip
    assert math.dist(*seen) > 0.25


def test_signs_are_one_cell_wide_and_tell_grades_apart() -> None:
    """Every sign takes one cell in both sets; the three grades differ; the ASCII set is ASCII."""
    for signs in (UNICODE, ASCII):
        values = [getattr(signs, name) for name in signs.__slots__ if name != "keys"]
        values += [key for _, key in signs.keys]
        assert {row_width(row(value)) for value in values} == {1}
        assert len({signs.hit, signs.near, signs.miss}) == 3
    assert "".join(getattr(ASCII, name) for name in ASCII.__slots__ if name != "keys").isascii()
    assert ASCII.keys == ()


def test_every_meaning_has_a_sign_of_its_own() -> None:
    """No two meanings share a sign in either set; straight lines are the one exception, and only in ASCII. What stands
    for a height in a row of bars is no grade."""
    for signs, alike in ((UNICODE, set()), (ASCII, {"edge", "left_edge"})):
        meanings = [name for name in signs.__slots__ if name != "keys" and name not in alike]
        used = [getattr(signs, name) for name in meanings]
        assert len(set(used)) == len(used), sorted(zip(used, meanings, strict=True))
        assert {getattr(signs, name) for name in alike} <= {signs.bar}
    assert not {ASCII.grade(grade) for grade in GRADES} & set(sparkline.PLAIN)
    assert not {UNICODE.grade(grade) for grade in GRADES} & set(sparkline.BLOCKS)


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
    """Each sign that can be written large has five rows of one width, of blocks and blanks alone."""
    large = [sign for sign in map(chr, range(32, 0x2700)) if big_height(sign, 80, 5, Theme()) == 5]
    assert set(large) >= set("ABCDEFGNM♯♭#bmajdisugnotl0123456789/+-()°øΔ. ")
    for sign in large:
        rows = big_name(sign, 80, 5, Theme())
        assert len({row_width(cells) for cells in rows}) == 1, sign
        assert {char for cells in rows for part in cells for char in part.text} <= {"█", " "}, sign


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
