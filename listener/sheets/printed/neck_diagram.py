"""A fingering as a diagram for print: strings upright, the lowest on the left, the nut on top.

The black dot is the top note, the others are rings; in each the finger. Over the nut stands o for an open string (black
when it is the top note) and x for one that is not played. Left-handed players get the mirror image.
"""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element

from listener.guitar.fingering import Fingering, fret_window
from listener.sheets.musicxml.frames import flat_fingers
from listener.sheets.printed.svg import INK, PAPER, line, mm, write
from listener.sheets.xml_text import add

#: All in millimetres at full size.
STRING_GAP: Final = 2.4
FRET_GAP: Final = 3.0
_HEAD: Final = 2.4
_LABEL: Final = 3.6
_DOT: Final = 1.12
_LEAST_WIDTH: Final = 5.0


def diagram_width(string_count: int) -> float:
    """Room that a diagram needs from side to side, the fret number included on both sides."""
    return max(_LEAST_WIDTH, (string_count - 1) * STRING_GAP) + 2 * _DOT + _LABEL


def diagram_height(fingering: Fingering) -> float:
    """From the signs over the nut to the last fret."""
    first, last = fret_window(fingering.frets)
    return _HEAD + (last - first + 1) * FRET_GAP


def draw_diagram(parent: Element, fingering: Fingering, string_count: int, *, left_handed: bool = False) -> None:
    """Draw with the middle of the diagram at x = 0 and its upper edge at y = 0."""
    _Diagram(parent, fingering, string_count, left_handed).draw()


class _Diagram:
    def __init__(self, parent: Element, fingering: Fingering, string_count: int, left_handed: bool) -> None:
        self._parent, self._fingering, self._count, self._left = parent, fingering, string_count, left_handed
        self._first, self._last = fret_window(fingering.frets)

    def draw(self) -> None:
        self._grid()
        flat = flat_fingers(self._fingering)
        for (_, fret), strings in flat.items():
            self._bar(fret, strings[0], strings[-1])
        fingering = self._fingering
        for index, string in enumerate(fingering.strings):
            is_top = index == len(fingering.strings) - 1
            if fingering.frets[index] == 0:
                self._circle(self._x(string), _HEAD - 1.25, 0.75, INK if is_top else PAPER)
            else:
                self._dot(string, fingering.frets[index], fingering.fingers[index], is_top)
        for string in set(range(1, self._count + 1)) - set(fingering.strings):
            self._cross(self._x(string), _HEAD - 1.25)

    def _x(self, string: int) -> float:
        place = (self._count + 1) / 2 - string
        return STRING_GAP * (-place if self._left else place)

    def _y(self, fret: int) -> float:
        return _HEAD + (fret - self._first + 0.5) * FRET_GAP

    def _grid(self) -> None:
        half = (self._count - 1) / 2 * STRING_GAP
        bottom = _HEAD + (self._last - self._first + 1) * FRET_GAP
        for fret in range(self._last - self._first + 2):
            y = _HEAD + fret * FRET_GAP
            nut = fret == 0 and self._first == 1
            line(self._parent, -half, y, half, y, 0.7 if nut else 0.18)
        for string in range(1, self._count + 1):
            line(self._parent, self._x(string), _HEAD, self._x(string), bottom, 0.18)
        if self._first > 1:
            side = -1 if self._left else 1
            x, anchor = side * (half + _DOT + 0.7), "end" if self._left else "start"
            write(self._parent, str(self._first), x, self._y(self._first) + 0.9, 2.5, anchor=anchor)

    def _bar(self, fret: int, low: int, high: int) -> None:
        """A flat finger: a long ring round all its strings."""
        for width, ink in ((2 * _DOT + 0.7, INK), (2 * _DOT + 0.3, PAPER)):
            line(self._parent, self._x(low), self._y(fret), self._x(high), self._y(fret), width, ink)

    def _dot(self, string: int, fret: int, finger: int, is_top: bool) -> None:
        x, y = self._x(string), self._y(fret)
        self._circle(x, y, _DOT, INK if is_top else PAPER)
        if finger > 0:
            write(self._parent, str(finger), x, y + 0.79, 2.2, anchor="middle", ink=PAPER if is_top else INK)

    def _circle(self, x: float, y: float, radius: float, fill: str) -> None:
        size = {"cx": mm(x), "cy": mm(y), "r": mm(radius)}
        add(self._parent, "circle", **size, fill=fill, stroke=INK, stroke_width=mm(0.2))

    def _cross(self, x: float, y: float) -> None:
        for way in (-1, 1):
            line(self._parent, x - 0.55, y - way * 0.55, x + 0.55, y + way * 0.55, 0.2)
