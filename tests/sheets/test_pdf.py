"""The PDF of a sheet is the SVG on paper: as many pages, of the same size, with the same words and the same ink."""

from __future__ import annotations

import base64
import io
import xml.etree.ElementTree as ET
from collections import Counter
from contextlib import chdir
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import chromium
import matplotlib.image
import numpy as np
import numpy.typing as npt
import pytest
from scipy.ndimage import maximum_filter
from sheet_plans import course_plan, make_plan, planned_on

from listener.guitar.instrument import make_instrument
from listener.sheets.printed.pdf import FONTS_FOLDER, pages_pdf
from listener.sheets.printed.practice_sheet import sheet_pages
from listener.sheets.printed.svg import line, picture, svg_bytes, write

typst = pytest.importorskip("typst")
pdfium = pytest.importorskip("pypdfium2")

SVG = "{http://www.w3.org/2000/svg}"
#: Everything that the language of the typesetter, XML or the PDF itself might take for something else.
TITLE = 'B♭ & F♯: #panic("x") $ *b* \\ <i> @a'
Ink = npt.NDArray[np.float64]


def small_pages() -> list[bytes]:
    """Two small pages with every kind of letter that sheets use."""
    pages = []
    for number, width in enumerate((60.0, 80.0)):
        page = picture(width, 40.0, TITLE)
        write(page, f"Page {number}: B♭, F♯ and E♮", 3, 8, 3.3)
        write(page, "Études: Dvořák, Łódź, кириллица, ½ → ♩", 3, 16, 2.8, italic=True)
        write(page, TITLE, 3, 24, 2.8, bold=True)
        line(page, 3, 30, width - 3, 30, 0.2)
        pages.append(svg_bytes(page))
    return pages


def words_of_svg(page: bytes) -> Counter[str]:
    """How often each sign is written on the page."""
    texts = ("".join(text.itertext()) for text in ET.fromstring(page).iter(f"{SVG}text"))
    return Counter("".join("".join(texts).split()))


def words_of_pdf(page: Any) -> Counter[str]:
    """The same, of what a reader of the PDF can mark and copy."""
    return Counter("".join(page.get_textpage().get_text_range().split()))


def test_pages_size_title_and_words() -> None:
    """A page for each SVG in its size, the title as it is, and every sign as text."""
    pages = small_pages()
    read = pdfium.PdfDocument(pages_pdf(pages, TITLE))
    told = read.get_metadata_dict()
    assert told["Title"] == TITLE
    assert told["CreationDate"] == ""
    assert len(read) == 2
    for page, drawn, width in zip(pages, read, (60, 80), strict=True):
        assert [side / 72 * 25.4 for side in drawn.get_size()] == pytest.approx([width, 40], abs=0.01)
        assert words_of_pdf(drawn) == words_of_svg(page)


def test_the_letters_travel_with_the_file() -> None:
    """Every font is in the PDF, so it looks the same wherever it is opened."""
    for page in pdfium.PdfDocument(pages_pdf(small_pages(), "T")):
        found = list(page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_TEXT]))
        fonts = [pdfium.raw.FPDFTextObj_GetFont(text.raw) for text in found]
        assert fonts
        assert all(pdfium.raw.FPDFFont_GetIsEmbedded(font) == 1 for font in fonts)


def test_the_same_on_every_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a byte depends on the clock or on the fonts that the computer has."""
    usual = pages_pdf(small_pages(), TITLE)
    monkeypatch.setattr(typst, "compile", partial(typst.compile, ignore_system_fonts=True))
    assert pages_pdf(small_pages(), TITLE) == usual


@pytest.mark.parametrize("title", ["", "\x00a\udcff", "word " * 5_000, "😀 e\u0301\n\u202eb"])
def test_any_title(title: str) -> None:
    """What a title cannot hold is left out; nothing breaks."""
    assert len(pdfium.PdfDocument(pages_pdf(small_pages(), title))) == 2


def test_no_folder_to_work_in(tmp_path: Path) -> None:
    """The folder that the program was started in may be gone."""
    gone = tmp_path / "gone"
    gone.mkdir()
    with chdir(gone):
        gone.rmdir()
        assert pages_pdf(small_pages(), "T").startswith(b"%PDF-")


# The ink: a browser draws the SVG, another program the PDF.

DOTS_A_MM = 200 / 25.4
#: Dots by which two drawings of one line may lie apart.
APART = 2
#: Dots that may be seen by one program and not by the other; on all sheets of the course there was none.
STRAY = 2


@cache
def letters() -> str:
    """The letters of the PDF for the browser, which has to draw with the same."""
    faces = []
    for name, style in (("", ""), ("-Bold", "font-weight:bold;"), ("-Oblique", "font-style:italic;")):
        data = base64.b64encode((FONTS_FOLDER / f"DejaVuSans{name}.ttf").read_bytes()).decode()
        faces.append(f"@font-face{{font-family:'DejaVu Sans';{style}src:url(data:font/ttf;base64,{data})}}")
    return "".join(faces)


def ink_of_svg(page: bytes, browser: chromium.Browser, folder: Path) -> Ink:
    """How dark each dot is in the browser: 0 is paper, 1 is black; rows by columns."""
    _, _, width, height = (float(side) * DOTS_A_MM for side in ET.fromstring(page).get("viewBox", "").split())
    style = f"body{{margin:0}}svg{{display:block;width:{width}px;height:{height}px}}{letters()}"
    frame = folder / "frame.html"
    drawing = page.decode().split("?>", 1)[1]
    frame.write_text(f'<!DOCTYPE html><meta charset="utf-8"><style>{style}</style>{drawing}', encoding="utf-8")
    browser.open(frame, round(width), round(height))
    while browser.value("[...document.fonts].filter(face => face.status == 'loading').length"):
        pass
    assert browser.value("[...document.fonts].filter(face => face.status == 'loaded').length") >= 2
    shown = matplotlib.image.imread(io.BytesIO(browser.picture()), format="png")
    return 1.0 - np.asarray(shown, dtype=np.float64)[:, :, :3].mean(axis=2)


def ink_of_pdf(page: Any) -> Ink:
    """The same in the PDF."""
    shown = page.render(scale=DOTS_A_MM * 25.4 / 72, grayscale=True).to_numpy()
    return 1.0 - np.asarray(shown, dtype=np.float64).reshape(shown.shape[:2]) / 255


def lost(wanted: Ink, found: Ink) -> int:
    """How many dark dots of the one have nothing near them in the other."""
    rows, columns = (min(sides) for sides in zip(wanted.shape, found.shape, strict=True))
    near = maximum_filter(found[:rows, :columns], size=2 * APART + 1)
    return int(((wanted[:rows, :columns] > 0.25) & (near < 0.1)).sum())


def plans() -> dict[str, tuple[bytes, ...]]:
    """Sheets with everything that there is to draw."""
    eight = make_instrument("F#1 B1 E2 A2 D3 G3 B3 E4", capo=2, left_handed=True)
    four = make_plan([("C", 0, 4), ("F", 4, 2), ("Cmaj7", 6, 2), ("G7/B", 8, 4)], title="B♭ über F♯, Ωμέγα " * 9)
    signs = replace(four, drill=replace(four.drill, about="Play B♭, then F♯ and E♮: ½ → ♩. " * 9))
    return {
        "signs": sheet_pages(signs),
        "left-handed": sheet_pages(planned_on(eight, "C | Am | F | G", fields='kind = "close"'), paper="letter"),
        "rests and flags": sheet_pages(course_plan("tram-bell")),
        "accidentals": sheet_pages(course_plan("drove-road")),
    }


@pytest.mark.slow
@pytest.mark.chromium
def test_nothing_drawn_is_lost(browser: chromium.Browser, tmp_path: Path, printing: None) -> None:
    """Ink where the browser has it, and nowhere else."""
    for name, pages in plans().items():
        for page, drawn in zip(pages, pdfium.PdfDocument(pages_pdf(pages, name)), strict=True):
            svg, pdf = ink_of_svg(page, browser, tmp_path), ink_of_pdf(drawn)
            assert abs(np.subtract(svg.shape, pdf.shape)).max() <= 1
            assert (svg > 0.5).sum() > 10_000
            assert lost(svg, pdf) <= STRAY, f"missing in the PDF: {name}"
            assert lost(pdf, svg) <= STRAY, f"only in the PDF: {name}"


@pytest.mark.slow
@pytest.mark.chromium
@pytest.mark.parametrize("tag", ["line", "circle", "use", "text", "path"])
def test_a_lost_shape_would_be_noticed(tag: str, browser: chromium.Browser, tmp_path: Path, printing: None) -> None:
    """The comparison can fail: without a single shape of the page it does."""
    (page,) = sheet_pages(course_plan("tram-bell"))
    whole = ink_of_svg(page, browser, tmp_path)
    root = ET.fromstring(page)
    parent, shape = [(parent, shape) for parent in root.iter() for shape in parent.findall(f"{SVG}{tag}")][-1]
    parent.remove(shape)
    (drawn,) = pdfium.PdfDocument(pages_pdf([ET.tostring(root)], "T"))
    assert lost(whole, ink_of_pdf(drawn)) > 2 * STRAY
