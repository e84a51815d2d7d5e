"""Staff and tab of a plan, engraved by verovio, as pieces of SVG: one for each line of the page, in millimetres.

verovio draws tab well but no neck diagrams; those are ours, set above its chords. The notes under the top line are
printed in grey, so that the top line is seen at once; in the tab its frets are bold.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final
from xml.etree.ElementTree import Element, fromstring

from listener.errors import PlanError
from listener.planning.plan import Plan
from listener.sheets.extras import extra
from listener.sheets.musicxml.musicxml import Show, plan_musicxml
from listener.sheets.printed.svg import INK, QUIET, SPACE
from listener.sheets.xml_text import element

#: verovio draws in hundredths of a millimetre when a page is given in tenths.
SCALE: Final = 0.01
#: Half a staff space in tenths of a millimetre: a staff is 6 mm high, as in printed songbooks.
_UNIT: Final = 7.5
#: Classes of verovio's groups that mark places and are not to be seen.
_UNSEEN: Final = ("placeholder", "ilestone", "label")
_STROKED: Final = {"path", "polygon", "polyline", "rect", "ellipse"}
_KEPT: Final = ("d", "points", "x", "y", "width", "height", "cx", "cy", "rx", "ry", "transform", "stroke-width")
_KEPT_TEXT: Final = ("x", "y", "dx", "dy", "text-anchor", "font-size")
_NUMBERS: Final = re.compile(r"-?\d+(?:\.\d+)?")
_GLYPH: Final = re.compile(r"#(\w+)-")
#: Glyphs reach above and below their own place.
_AROUND: Final = 150.0


@dataclass
class System:
    """One line of music: what to draw (verovio's units), how far up and down it reaches, and where each chord stands.

    ``chord_x`` has the middle of every chord, by its number from 1; all lengths in millimetres.
    """

    group: Element
    top: float
    bottom: float
    chord_x: dict[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Engraved:
    """All lines of a plan and the glyphs that they use."""

    glyphs: tuple[Element, ...]
    systems: tuple[System, ...]


def engrave(plan: Plan, width_mm: float, line_breaks: frozenset[int]) -> Engraved:
    """Engrave a plan on lines of this width, with new lines at the bars of these numbers; 1 must be among them.

    Raises :class:`listener.sheets.extras.MissingExtra` without verovio.
    """
    verovio = extra("verovio", "a printed sheet")
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(_options(width_mm))
    score = plan_musicxml(plan, show=Show(words=False, fingers=False, patterns=False, line_breaks=line_breaks))
    if not toolkit.loadData(score.decode()):
        raise PlanError("the engraver cannot read this plan; the MusicXML and the plain-text tab still can be written")
    pages = [fromstring(toolkit.renderToSVG(number)) for number in range(1, toolkit.getPageCount() + 1)]
    glyphs = {glyph.get("id"): glyph for page in pages for glyph in _glyphs(page)}
    groups = (group for page in pages for group in page.iter(f"{{{SPACE}}}g"))
    return Engraved(tuple(glyphs.values()), tuple(_system(group) for group in groups if _class(group) == "system"))


def _options(width_mm: float) -> dict[str, Any]:
    return {
        "pageWidth": round(width_mm * 10),
        "pageHeight": 60_000,
        "pageMarginLeft": 0,
        "pageMarginRight": 0,
        "pageMarginTop": 0,
        "pageMarginBottom": 0,
        "scale": 100,
        "unit": _UNIT,
        "breaks": "encoded",
        "header": "none",
        "footer": "none",
        "adjustPageHeight": True,
        "spacingNonLinear": 0.8,
        "spacingStaff": 6,
        "spacingBraceGroup": 6,
        "minLastJustification": 0.55,
        "svgRemoveXlink": True,
        "smuflTextFont": "none",
        "xmlIdSeed": 1,
    }


def _class(group: Element) -> str:
    return group.get("class", "")


def _glyphs(root: Element) -> Iterator[Element]:
    for glyph in root.findall(f"{{{SPACE}}}defs/{{{SPACE}}}g"):
        named = element("g", id=f"glyph-{glyph.get('id', '').split('-')[0]}")
        for path in glyph:
            named.append(element("path", transform=path.get("transform"), d=path.get("d")))
        yield named


def _system(source: Element) -> System:
    heights: list[float] = []
    chord_x: dict[int, float] = {}
    group = element("g")
    _copy(source, group, INK, heights, chord_x)
    return System(group, (min(heights) - _AROUND) * SCALE, (max(heights) + _AROUND) * SCALE, chord_x)


def _copy(source: Element, target: Element, ink: str, heights: list[float], chord_x: dict[int, float]) -> None:
    """Copy what is to be seen, with its colours written out, and note heights and the places of chords."""
    layers = 0
    for child in source:
        tag, kind = child.tag.removeprefix(f"{{{SPACE}}}"), _class(child)
        if any(word in kind for word in _UNSEEN):
            continue
        if tag == "g":
            layers += kind == "layer"
            new = element("g", transform=child.get("transform"))
            _copy(child, new, QUIET if kind == "layer" and layers == 2 else ink, heights, chord_x)
            _mark(child, new, chord_x)
            if len(new):
                target.append(new)
        elif tag == "use":
            glyph = _GLYPH.match(child.get("href", ""))
            if glyph is not None:
                place = child.get("transform", "")
                target.append(element("use", href=f"#glyph-{glyph[1]}", transform=place, fill=ink))
                heights.append(_numbers(place)[1])
        elif tag in _STROKED:
            heights.extend(_heights(child))
            kept = {name.replace("-", "_"): child.get(name) for name in _KEPT}
            target.append(element(tag, **kept, stroke=ink, fill="none" if child.get("fill") == "none" else ink))
        elif tag == "text":
            heights.append(float(child.get("y", "0")))
            target.append(_text(child, ink))


def _mark(source: Element, copy: Element, chord_x: dict[int, float]) -> None:
    """Bold frets for the top line, whose tab notes have ids; they also tell where the chord stands."""
    name, _, number = source.get("id", "").partition("-")
    text = copy.find("text")
    if name == "tab" and number.isdecimal() and text is not None:
        chord_x[int(number)] = float(text.get("x", "0")) * SCALE
        text.set("font-weight", "bold")


def _text(source: Element, ink: str) -> Element:
    kept = {name.replace("-", "_"): source.get(name) for name in _KEPT_TEXT}
    new = element("text", **kept, fill=ink)
    for span in source.iter(f"{{{SPACE}}}tspan"):
        if span.text and span.text.strip():
            size = element("tspan", font_size=span.get("font-size"))
            size.text = span.text
            new.append(size)
    return new


def _numbers(text: str) -> list[float]:
    return [float(number) for number in _NUMBERS.findall(text)]


def _heights(child: Element) -> list[float]:
    """Heights of a path's or polygon's points, which are all absolute pairs, or of a rectangle's edges."""
    points = _numbers(child.get("d") or child.get("points") or "")
    if points:
        return points[1::2]
    top = float(child.get("y") or child.get("cy") or 0)
    return [top, top + float(child.get("height") or 0)]
