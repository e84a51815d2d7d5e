"""No line of a sheet is longer than it was thought to be: widths against the fonts themselves.

DejaVu Sans comes with the program, Adobe's metrics of Helvetica with matplotlib; fontTools reads both.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import matplotlib
import pytest
from fontTools.afmLib import AFM
from fontTools.agl import toUnicode
from fontTools.ttLib import TTFont
from hypothesis import example, given
from hypothesis import strategies as st

from listener.sheets.printed.pdf import FONTS_FOLDER
from listener.sheets.printed.text_width import text_width, wrapped

METRICS = Path(matplotlib.get_data_path()) / "fonts" / "pdfcorefonts"
#: File name, and whether it is the bold one.
FACES = [
    ("DejaVuSans.ttf", False),
    ("DejaVuSans-Bold.ttf", True),
    ("DejaVuSans-Oblique.ttf", False),
    ("Helvetica.afm", False),
    ("Helvetica-Bold.afm", True),
]


@cache
def advances(face: str) -> Mapping[str, float]:
    """The advance width of every printable character that the font has, as a share of its size."""
    if face.endswith(".afm"):
        metrics = AFM(METRICS / face)
        named = {toUnicode(glyph): metrics[glyph][1] / 1000 for glyph in metrics.chars()}
    else:
        font = TTFont(FONTS_FOLDER / face)
        widths, unit = font["hmtx"], font["head"].unitsPerEm
        named = {chr(code): widths[glyph][0] / unit for code, glyph in font.getBestCmap().items()}
    return {char: width for char, width in named.items() if len(char) == 1 and char.isprintable()}


@pytest.mark.parametrize(("face", "bold"), FACES)
def test_no_letter_is_wider_than_measured(face: str, bold: bool) -> None:
    """Every character of every font that a sheet may be set in."""
    known = advances(face)
    assert len(known) > 300
    too_wide = {char: width for char, width in known.items() if width > text_width(char, 1.0, bold=bold) + 1e-9}
    assert not too_wide


def test_plain_text_is_not_measured_far_too_wide() -> None:
    """Generous, not wasteful: text as in the course comes out at most a tenth wider than in the widest font."""
    text = "Spread triads up the scale: keep the fifth, let the top line move by step. Listen for G7b9 (2-1-3)."
    real = sum(advances("DejaVuSans.ttf")[char] for char in text)
    assert real <= text_width(text, 1.0) <= 1.1 * real


def test_marks_take_no_room_and_squares_one() -> None:
    """A letter and its accent, put together or not, are equally wide; ideographs, kana and Hangul fill a square."""
    for text in ("éÅñộ", "Ўйї", "ΰή"):
        apart = unicodedata.normalize("NFD", text)
        assert len(apart) > len(text)
        assert text_width(apart, 1.0) == pytest.approx(text_width(text, 1.0))
    assert text_width("和音ギターがＧ기타", 1.0) == 9.0


_LETTERS = st.one_of(
    st.sampled_from(sorted(advances("DejaVuSans.ttf"))),
    st.sampled_from("aimW .,-ÄœЖω♭♯和ガ기😀\u0301\u0308\u200d"),
    st.characters(codec="utf-8").filter(str.isprintable),
)


@given(st.text(_LETTERS, max_size=120), st.floats(3, 60), st.floats(0, 3))
@example("WWWWWWWW" * 4, 30.0, 0.0)
@example("0123456789" * 4, 20.0, 0.0)
def test_no_line_is_longer_than_the_paper(text: str, width: float, indent: float) -> None:
    """Whatever is written: real widths of a line add up to no more than its room, marks stay with their letter,
    and nothing is lost."""
    real = advances("DejaVuSans.ttf")
    lines = list(wrapped(text, 3.0, width, indent=indent))
    assert "".join("".join(lines).split()) == "".join(text.split())
    for index, line in enumerate(lines):
        room = width - (indent if index == 0 else 0.0)
        letters = [char for char in line if unicodedata.category(char) not in ("Mn", "Me", "Cf")]
        assert sum(real.get(char, 0.0) for char in line) * 3.0 <= room + 1e-6 or len(letters) <= 1
        assert index == 0 or line[0] in {word[0] for word in text.split()} or letters[:1] == [line[0]]
