"""Drawing with plain SVG: lines, circles and texts in millimetres, nothing that would have to be fetched."""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element, tostring

from listener.sheets.xml_text import add, element

SPACE: Final = "http://www.w3.org/2000/svg"
INK: Final = "#000"
#: For what stands behind the top line; still readable after copying.
QUIET: Final = "#707070"
PAPER: Final = "#fff"
#: DejaVu Sans is the one that a PDF is set in and that lines are broken for; an SVG takes what the computer has.
FONTS: Final = "'DejaVu Sans', Helvetica, Arial, 'Liberation Sans', sans-serif"


def picture(width_mm: float, height_mm: float, title: str) -> Element:
    """An empty page, white, of this size."""
    root = element(
        "svg",
        xmlns=SPACE,
        width=f"{width_mm:g}mm",
        height=f"{height_mm:g}mm",
        viewBox=f"0 0 {width_mm:g} {height_mm:g}",
        font_family=FONTS,
    )
    add(root, "title", title)
    add(root, "rect", width=width_mm, height=height_mm, fill=PAPER)
    return root


def line(parent: Element, x1: float, y1: float, x2: float, y2: float, width: float, ink: str = INK) -> None:
    """A straight line."""
    ends = {"x1": mm(x1), "y1": mm(y1), "x2": mm(x2), "y2": mm(y2)}
    add(parent, "line", **ends, stroke=ink, stroke_width=mm(width), stroke_linecap="round")


def write(
    parent: Element,
    text: str,
    x: float,
    y: float,
    size: float,
    *,
    anchor: str | None = None,
    bold: bool = False,
    italic: bool = False,
    ink: str = INK,
) -> None:
    """A line of text; ``y`` is its base line, ``anchor`` start, middle or end."""
    add(
        parent,
        "text",
        text,
        x=mm(x),
        y=mm(y),
        font_size=mm(size),
        text_anchor=anchor,
        font_weight="bold" if bold else None,
        font_style="italic" if italic else None,
        fill=ink,
    )


def mm(value: float) -> str:
    """A length to the hundredth of a millimetre."""
    return f"{round(value, 2):g}"


def svg_bytes(root: Element) -> bytes:
    """The picture as a file, UTF-8."""
    data: bytes = tostring(root, encoding="UTF-8", xml_declaration=True)
    return data + b"\n"
