"""Pictures: valid SVG, the same bytes every time, and nothing in them that would reach for the network."""

from __future__ import annotations

import re
from collections.abc import Callable
from xml.etree import ElementTree

import pytest

from listener.planning.plan import Plan
from listener.screen.picture import svg_picture
from listener.screen.practice.dashboard import dashboard
from listener.screen.theme import Theme
from listener.session.take.state import Snapshot

NAMESPACE = "http://www.w3.org/2000/svg"


@pytest.fixture
def svg(verse: Plan, moment: Callable[..., Snapshot]) -> str:
    """The dashboard at 100 x 30 as SVG, with a title that needs care."""
    picture = dashboard(moment(verse), width=100, height=30, theme=Theme())
    return svg_picture(picture, width=100, height=30, title="A & B <{0}>")


def test_no_address_and_no_font_of_the_web(svg: str) -> None:
    """The only address is the SVG namespace; no font face, import, link, script or outside image."""
    assert re.findall(r"[a-z]+://[^\"' ]+", svg) == [NAMESPACE]
    for word in ("@font-face", "@import", "href", "<script", "<image", "url(http", "Fira"):
        assert word not in svg
    assert "url(" not in svg
    assert "<!--" not in svg


def test_equal_screens_equal_bytes(
    verse: Plan, moment: Callable[..., Snapshot], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither chance nor the environment gets in."""

    def draw() -> str:
        picture = dashboard(moment(verse), width=80, height=24, theme=Theme())
        return svg_picture(picture, width=80, height=24, title="x")

    first = draw()
    for name, value in {"NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "33", "COLORTERM": ""}.items():
        monkeypatch.setenv(name, value)
    assert draw() == first


def test_it_is_svg_with_all_the_text(svg: str) -> None:
    """An XML parser reads it; the title is kept; the cells' text is in it."""
    root = ElementTree.fromstring(svg)
    assert root.tag == f"{{{NAMESPACE}}}svg"
    assert root.findtext(f"{{{NAMESPACE}}}title") == "A & B <{0}>"
    text = "".join(root.itertext()).replace("\xa0", " ")
    for fact in ("near", "drop 2", "right chord, but close", "next", "F♯m7♭5"):
        assert fact in text
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    assert left < 0 > top
    assert 1.6 < width / height < 1.8
