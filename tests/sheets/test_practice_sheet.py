"""The printed sheet: every drill of the course has one, self-contained, on its paper, and a PDF with the same pages."""

from __future__ import annotations

import builtins
import re
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import pytest
from sheet_plans import COURSE, Timed, course_plan, make_plan, planned_on

from listener.errors import UsageError
from listener.guitar.instrument import make_instrument
from listener.sheets.extras import MissingExtra
from listener.sheets.printed.engraving import engrave
from listener.sheets.printed.neck_diagram import draw_diagram
from listener.sheets.printed.pdf import pages_pdf
from listener.sheets.printed.practice_sheet import MOST_CHORDS, PAPERS, sheet_pages

pytest.importorskip("verovio")
SVG = "{http://www.w3.org/2000/svg}"
SHORT = COURSE[0]
FOUR: list[Timed] = [("C", 0, 4), ("F", 4, 2), ("Cmaj7", 6, 2), ("G7/B", 8, 4)]


def texts(page: bytes) -> str:
    """All words of a page, in order."""
    return " ".join(" ".join("".join(text.itertext()) for text in ET.fromstring(page).iter(f"{SVG}text")).split())


@pytest.mark.slow
@pytest.mark.parametrize(("name", "paper"), [*((name, "a4") for name in COURSE), (SHORT, "letter")])
def test_the_course_on_paper(name: str, paper: str, printing: None) -> None:
    """Words and chords of every drill stand on its sheet; nothing is fetched; the PDF has the same pages and size."""
    import pypdfium2

    plan = course_plan(name)
    pages = sheet_pages(plan, paper=paper)
    words = " ".join(map(texts, pages))
    for text in (plan.drill.title, plan.drill.about, plan.drill.listen_for, plan.drill.move_on, "Pain means stop"):
        assert " ".join(text.split()) in words
    for page in pages:
        check_self_contained(page)
        check_inside(page)
    for symbol in {one.voicing.chord.symbol for one in plan.steps}:
        assert symbol in words
    read = pypdfium2.PdfDocument(pages_pdf(pages, plan.drill.title))
    assert len(read) == len(pages)
    assert read.get_metadata_dict()["Title"] == plan.drill.title
    for drawn in read:
        assert [side / 72 * 25.4 for side in drawn.get_size()] == pytest.approx(PAPERS[paper], abs=0.01)


def check_self_contained(page: bytes) -> None:
    """One address, the name of the SVG language itself; no pictures, fonts, scripts or styles from anywhere."""
    assert set(re.findall(rb"\w+://[^\"' <]+", page)) == {b"http://www.w3.org/2000/svg"}
    root = ET.fromstring(page)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert not tags & {"image", "script", "style", "foreignObject", "link", "a"}
    used = {element.get("href") for element in root.iter(f"{SVG}use")}
    assert used <= {f"#{glyph.get('id')}" for glyph in root.findall(f"{SVG}defs/{SVG}g")}


def check_inside(page: bytes) -> None:
    """No text of ours begins left of the paper or below it."""
    root = ET.fromstring(page)
    _, _, width, height = map(float, root.get("viewBox", "").split())
    for text in root.findall(f"{SVG}text"):
        assert 0 < float(text.get("x", "")) < width
        assert 0 < float(text.get("y", "")) < height


@pytest.mark.parametrize("name", [SHORT, "tram-bell"])
def test_every_chord_has_its_place(name: str) -> None:
    """The engraver keeps the bars on their lines, chords go from left to right, and none is lost."""
    plan = course_plan(name)
    engraved = engrave(plan, 180, frozenset({1, 5}))
    assert len(engraved.systems) == 2
    numbers = [number for system in engraved.systems for number in system.chord_x]
    assert sorted(numbers) == list(range(1, len(plan.steps) + 1))
    for system in engraved.systems:
        places = [system.chord_x[number] for number in sorted(system.chord_x)]
        assert places == sorted(places)
        assert places[0] > 0
        assert places[-1] < 180
        assert 20 < system.bottom - system.top < 80


def test_one_line_stays_one_line() -> None:
    """Bars that are too many for a line are set closer instead of broken."""
    plan = make_plan([("C", n, 1) for n in range(48)])
    (system,) = engrave(plan, 180, frozenset({1})).systems
    assert max(system.chord_x.values()) < 180


@pytest.mark.parametrize(("tuning", "capo"), [("G3 C4 E4 A4", 0), ("F#1 B1 E2 A2 D3 G3 B3 E4", 2)])
def test_other_guitars(tuning: str, capo: int) -> None:
    """Four and eight strings and a capo: a sheet, with the capo named."""
    plan = planned_on(make_instrument(tuning, capo=capo), "C | Am | F | G", fields='kind = "close"')
    (page,) = sheet_pages(plan)
    check_self_contained(page)
    assert ("capo at fret 2" in texts(page)) is bool(capo)
    assert ("Frets count from the capo" in texts(page)) is bool(capo)


def test_left_handed_diagrams_are_mirrored() -> None:
    """The same dots with the other sign, as the instrument says; staff and tab stay as they are."""
    fingering = make_plan(FOUR).steps[0].fingering
    right, left = ET.Element("g"), ET.Element("g")
    draw_diagram(right, fingering, 6)
    draw_diagram(left, fingering, 6, left_handed=True)
    assert [float(dot.get("cx", "")) for dot in left.iter("circle")] == [
        -float(dot.get("cx", "")) for dot in right.iter("circle")
    ]
    for left_handed in (True, False):
        (page,) = sheet_pages(planned_on(make_instrument(left_handed=left_handed), "C | F"))
        assert ("left-handed" in texts(page)) == left_handed


def test_the_diagram_says_what_the_fingering_says() -> None:
    """C in third position, by hand: rings with fingers 2 and 4, a black dot with finger 3 on top."""
    group = ET.Element("g")
    draw_diagram(group, make_plan(FOUR).steps[0].fingering, 6)
    assert [text.text for text in group.iter("text")] == ["3", "2", "4", "3"]  # the first is the fret
    assert [dot.get("fill") for dot in group.iter("circle")] == ["#fff", "#fff", "#000"]


def test_the_top_line_is_black_and_bold() -> None:
    """Grey is only what lies under it: as many bold frets as chords."""
    root = ET.fromstring(sheet_pages(make_plan(FOUR))[0])
    bold = ["".join(t.itertext()) for t in root.iter(f"{SVG}text") if t.get("font-weight") == "bold"]
    assert [text for text in bold if text.isdecimal()] == ["5", "6", "5", "3"]


def test_the_same_plan_gives_the_same_pages() -> None:
    """No clock, no chance."""
    assert sheet_pages(make_plan(FOUR)) == sheet_pages(make_plan(FOUR))


def test_many_chords_take_many_pages() -> None:
    """Two hundred bars: all are there, the pages are numbered, no page is overfull."""
    names = ("C", "F", "Em")
    plan = make_plan([(names[n % 3], 4 * n, 4) for n in range(200)])
    pages = sheet_pages(plan)
    assert len(pages) > 5
    assert all(f"{number} / {len(pages)}" in texts(page) for number, page in enumerate(pages, start=1))


def test_texts_of_any_length_stay_on_the_page() -> None:
    """A title without end and an endless text are cut with dots, signs that XML cannot hold are left out."""
    plan = make_plan(FOUR, title="Ein <sehr> \x07" + "langer Titel " * 80)
    plan = replace(plan, drill=replace(plan.drill, about="word " * 20_000, listen_for="x" * 20_000))
    pages = sheet_pages(plan)
    assert len(pages) == 1
    check_inside(pages[0])
    words = texts(pages[0])
    assert words.startswith("Ein <sehr> langer Titel")
    assert words.count("...") == 3
    _, y = re.findall(r"-?[\d.]+", ET.fromstring(pages[0]).findall(f"{SVG}g")[-1].get("transform", ""))
    assert float(y) < PAPERS["a4"][1] - 60


@pytest.mark.parametrize(
    ("plan", "paper", "message"),
    [
        (make_plan(FOUR), "a3", "there is no paper 'a3'; use a4 or letter"),
        (make_plan([]), "a4", "no chords"),
        (make_plan([("C", n, 1) for n in range(MOST_CHORDS + 1)]), "a4", "split the drill"),
    ],
)
def test_what_cannot_be_printed(plan: Any, paper: str, message: str) -> None:
    """One line that says why."""
    with pytest.raises(UsageError, match=message):
        sheet_pages(plan, paper=paper)


@pytest.mark.parametrize("library", ["verovio", "typst"])
def test_a_missing_library_is_named(library: str, monkeypatch: pytest.MonkeyPatch, printing: None) -> None:
    """With the command that brings it."""
    real = builtins.__import__

    def without(name: str, *rest: Any, **named: Any) -> Any:
        if name.split(".")[0] == library:
            raise ModuleNotFoundError(f"No module named '{library}'", name=library)
        return real(name, *rest, **named)

    monkeypatch.setitem(sys.modules, library, None)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingExtra, match=rf"needs {library}, .*pip install 'widehand\[sheets\]'"):
        pages_pdf(sheet_pages(make_plan(FOUR)), "T")
