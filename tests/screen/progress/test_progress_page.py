"""The page of progress: whole in one file, read without a network, in black and white, on a phone, and aloud."""

from __future__ import annotations

import re
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC
from html.parser import HTMLParser
from pathlib import Path

import chromium
import pytest
from made_up_weeks import fill

from listener.commands.keeping.progress import run
from listener.history.progress.reading import read_facts
from listener.history.progress.report import ProgressReport, report_on
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.screen.progress.figures import figures
from listener.screen.progress.html import MOST_ROWS
from listener.screen.progress.page import progress_rows
from listener.screen.progress.plots import MOST_INK
from listener.screen.progress.shown import Hits, Minutes, pictures_of
from listener.screen.progress.vocabulary_figures import vocabulary_figures
from listener.screen.theme import Theme
from listener.sheets.extras import MissingExtra

#: WCAG 2.1, success criterion 1.4.3: text must stand out from its ground by at least this ratio.
LEAST_CONTRAST = 4.5
OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
#: Texts of pictures that reach beyond their picture, and the height of the smallest letters on the screen.
CUT_OFF = """[...document.querySelectorAll('svg text')].filter(text => {
  const at = text.getBoundingClientRect(), all = text.ownerSVGElement.getBoundingClientRect();
  return at.left < all.left - 1 || at.right > all.right + 1 || at.top < all.top - 1 || at.bottom > all.bottom + 1;
}).map(text => text.textContent)"""
SMALLEST = """Math.min(...[...document.querySelectorAll('svg text')].map(text => {
  const to = text.getScreenCTM(); return parseFloat(getComputedStyle(text).fontSize) * Math.hypot(to.a, to.b);
}))"""
#: Drawn things per picture that can be seen: a picture that lost its lines and fills would have none.
SEEN = """[...document.querySelectorAll('figure svg')].map(svg => [...svg.querySelectorAll('path, use')].filter(one => {
  const style = getComputedStyle(one); return style.fill !== 'none' || style.stroke !== 'none';
}).length)"""


class Reader(HTMLParser):
    """Checks that tags are closed in order, and collects names and what could be fetched."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.names: list[str] = []
        self.tags: list[str] = []
        self.fetched: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in ("meta", "br"):
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.names.append(value or "")
            if name in ("src", "href", "srcset", "data", "action") and not (value or "").startswith("#"):
                self.fetched.append(f"{tag} {name}={value}")
            assert not name.startswith("on"), f"{tag} has a script"

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in ("meta", "br"):
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty made-up weeks."""
    path = tmp_path_factory.mktemp("weeks") / "history.sqlite3"
    with Store.open(path) as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")
        fill(store)
    return path


@pytest.fixture(scope="module")
def page(history: Path) -> Path:
    """The page about them, made by the command."""
    path = history.with_name("progress.html")
    assert run(history, drill=None, as_json=False, html=str(path), zone=UTC) == 0
    return path


@pytest.fixture(scope="module")
def report(history: Path) -> ProgressReport:
    """What is told of them."""
    with Store.open(history, read_only=True) as store, store.backend.reading() as db:
        return report_on(read_facts(db), zone=UTC)


def test_one_file_with_everything_in_it(page: Path) -> None:
    """Well-formed, every name once, no script, nothing to fetch; small enough to send."""
    text = page.read_text(encoding="utf-8")
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    assert len(reader.names) == len(set(reader.names)) > 100
    assert reader.fetched == []
    assert not {"script", "link", "img", "iframe", "object", "image"} & set(reader.tags)
    assert not re.findall(r"https?:|@import|url\((?!#)", text)
    assert set(re.findall(r"url\(#([^)]+)\)", text)) | set(re.findall(r' href="#([^"]+)"', text)) <= set(reader.names)
    assert len(text) < 400_000


def test_every_picture_speaks_and_has_its_numbers(page: Path, report: ProgressReport) -> None:
    """Each is an image with a title and a description, is XML, and has a table with the report's numbers."""
    text = page.read_text(encoding="utf-8")
    pictures = re.findall(r"<svg.*?</svg>", text, re.S)
    assert len(pictures) == text.count("<details>") == text.count("<figure>") == 8 + len(vocabulary_figures(report))
    for picture in pictures:
        root = ET.fromstring(picture)
        assert root.get("role") == "img"
        title, desc = root.findall("title")[0], root.findall("desc")[0]
        assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        assert len(desc.text or "") > 20
        assert "nan" not in (desc.text or "")
    for number, period in enumerate(report.periods):
        if period.takes:
            row = f"<td>{period.start.isoformat()}</td><td>{period.account.judged}</td><td>{period.account.hits}</td>"
            assert row in text, number
    for change in report.facts.changes:
        assert f"<td>{change.whole.attempts}</td><td>{change.whole.hits}</td>" in text


def test_the_same_history_gives_the_same_page(page: Path, history: Path, tmp_path: Path) -> None:
    """Byte for byte, so that a page can be compared with the one before."""
    again = tmp_path / "again.html"
    assert run(history, drill=None, as_json=False, html=str(again), zone=UTC) == 0
    assert again.read_bytes() == page.read_bytes()


def test_hostile_names_are_only_text(history: Path, tmp_path: Path) -> None:
    """A drill's name can hold tags, dollars and backslashes; they are shown, not obeyed."""
    name = '<script>alert("x")</script> $\\frac{1}{2}$ & ]]>'
    with Store.open(tmp_path / "history.sqlite3") as store:
        fill(store, 1)
        with store.backend.writing() as db:
            db.rows("UPDATE take SET drill = :name", name=name)
    path = tmp_path / "p.html"
    assert run(tmp_path / "history.sqlite3", drill=name, as_json=False, html=str(path), zone=UTC) == 0
    text = path.read_text(encoding="utf-8")
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    assert "$\\frac" in text
    pictures = re.findall(r"<svg.*?</svg>", text, re.S)
    assert len(pictures) >= 8
    assert all(ET.fromstring(picture) is not None for picture in pictures)


@pytest.mark.parametrize("weeks", [0, 1])
def test_little_or_nothing(weeks: int, tmp_path: Path) -> None:
    """Without takes the page says what to do; one evening has pictures, and says when a trend can be seen."""
    path = tmp_path / "p.html"
    with Store.open(tmp_path / "history.sqlite3") as store:
        fill(store, weeks)
    assert run(tmp_path / "history.sqlite3", drill=None, as_json=False, html=str(path), zone=UTC) == 0
    text = path.read_text(encoding="utf-8")
    assert ("No takes yet" in text) == (not weeks)
    assert ("A trend can be seen once" in text) == bool(weeks)
    # Roots and one kind of voicing come after the eight.
    assert text.count("<svg") == (8 + 2 if weeks else 0)


def test_the_terminal_shows_the_same(report: ProgressReport) -> None:
    """The pictures of the page, in its order."""
    titles = [one.title for one in pictures_of(report) if not isinstance(one, Hits | Minutes)]
    assert len(titles) == 6
    assert [picture.title for picture in figures(report) if picture.title in titles] == titles
    lines = ["".join(part.text for part in cells) for cells in progress_rows(report, 60, Theme())]
    places = [next(place for place, line in enumerate(lines) if title in line) for title in titles]
    assert places == sorted(places)


def test_nothing_was_judged(report: ProgressReport) -> None:
    """Takes without a first attempt at any chord have minutes and no hits."""
    periods = [replace(period, account=Account(), whole=Account()) for period in report.periods]
    titles = [picture.title for picture in figures(replace(report, periods=tuple(periods)))]
    assert titles[0] == "Minutes and stretch in each week"
    assert not {"Hits, nears and misses", "Top note right", "Timing to the click"} & set(titles)


def test_long_tables_say_that_they_end(report: ProgressReport) -> None:
    """A table has so many rows and a line about the rest."""
    from listener.screen.progress.html import Picture, page

    rows = tuple((str(number),) for number in range(MOST_ROWS + 7))
    text = page(report, ["words"], [Picture("t", "<svg/>", "n", ("a",), rows)], "")
    assert "and 7 more" in text
    assert f"<td>{MOST_ROWS}</td>" not in text


def test_without_the_extra(history: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line that says what to install; no half of a page."""
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(MissingExtra, match=r"needs matplotlib.* pip install 'widehand\[report\]'"):
        run(history, drill=None, as_json=False, html=str(tmp_path / "p.html"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
def test_contrast(page: Path, scheme: str) -> None:
    """Words and marks stand out from the page by the ratio of WCAG 2.1 (1.4.3), with its formula for luminance."""
    styles = re.findall(r":root \{(.*?)\}", page.read_text(encoding="utf-8"), re.S)
    colours = dict(re.findall(r"--(\w+): (#\w+)", styles[["light", "dark", "print"].index(scheme)]))
    grounds = ("paper", "care")
    for ink, ground in [("ink", one) for one in grounds] + [("first", "paper"), ("second", "paper")]:
        lighter, darker = sorted((luminance(colours[ink]), luminance(colours[ground])), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= LEAST_CONTRAST, (ink, ground)
    fill, paper = ([int(colours[name].ljust(7, colours[name][-1])[place : place + 2], 16) for place in (1, 3, 5)]
                   for name in ("first", "paper"))  # fmt: skip
    mixed = [round(MOST_INK * one + (1 - MOST_INK) * other) for one, other in zip(fill, paper, strict=True)]
    square = "#" + "".join(f"{part:02x}" for part in mixed)
    lighter, darker = sorted((luminance(colours["ink"]), luminance(square)), reverse=True)
    assert (lighter + 0.05) / (darker + 0.05) >= LEAST_CONTRAST, square


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.slow
@pytest.mark.chromium
@pytest.mark.parametrize(("width", "dark"), [(320, False), (390, False), (390, True), (1200, False), (1200, True)])
def test_in_a_browser(browser: chromium.Browser, page: Path, width: int, dark: bool) -> None:
    """Opens from the disk without a request or a complaint, fits the window, and its letters are whole and readable."""
    browser.requests.clear()
    browser.open(page, width, dark=dark, phone=width < 500)
    assert browser.requests == [page.absolute().as_uri()]
    assert browser.complaints == []
    assert browser.value(OVERFLOW) == 0
    assert browser.value(CUT_OFF) == []
    assert browser.value(SMALLEST) >= (7 if width == 320 else 9)
    assert min(browser.value(SEEN)) > 5
    ground = browser.value("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, re.findall(r"\d+", ground))) < 300) == dark
    for number in range(browser.value("document.querySelectorAll('details').length")):
        browser.value(f"document.querySelectorAll('details')[{number}].open = true")
    assert browser.value(OVERFLOW) == 0
    assert browser.picture().startswith(b"\x89PNG")


@pytest.mark.slow
@pytest.mark.chromium
def test_the_browser_would_complain(browser: chromium.Browser, tmp_path: Path) -> None:
    """The checks above can fail: a page that fetches, throws and is too wide is noticed in all three."""
    path = tmp_path / "bad.html"
    path.write_text('<!DOCTYPE html><img src="http://127.0.0.1:9/x.png"><div style="width: 2000px">x</div>'
                    "<script>throw new Error('no')</script>")  # fmt: skip
    browser.requests.clear()
    browser.open(path, 390)
    assert "http://127.0.0.1:9/x.png" in browser.requests
    assert browser.value(OVERFLOW) > 1000
    assert any("no" in complaint for complaint in browser.complaints)
    browser.complaints.clear()
