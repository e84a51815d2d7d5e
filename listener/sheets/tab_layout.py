"""Tab before it is drawn: columns in bars, and as many bars side by side as there is room for.

Whoever draws it says what stands in each column and how wide it is, and brings the signs that lines are made of.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from listener.planning.plan import PlannedStep

#: Columns of a chord, at least.
LEAST: Final = 5


@dataclass(frozen=True, slots=True)
class Column:
    """One chord, place of a pattern, or rest (without ``planned``): the texts over it, the frets by string, 1 the
    highest, and the ``sign`` beneath. ``width`` counts characters."""

    when: str
    name: str
    frets: Mapping[int, str]
    width: int
    planned: PlannedStep | None
    top: str = ""
    sign: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A bar, or as much of one as a line has room for; ``closed`` by a bar line or left open."""

    columns: tuple[Column, ...]
    closed: bool

    @property
    def width(self) -> int:
        """Characters from the bar line before it to the end of its last column."""
        return sum(column.width for column in self.columns)


System = list[Part]


def systems(bars: Iterable[Sequence[Column]], room: int, *, by_passage: bool = False) -> list[System]:
    """Whole bars side by side as long as they fit into ``room`` characters; too wide a bar is broken between columns.

    ``by_passage`` begins a new line with each passage.
    """
    found: list[System] = []
    used, passage = 0, ""
    for part in (part for bar in bars for part in _parts(bar, room)):
        need = 1 + part.width
        begun = next((one.planned.step.passage for one in part.columns if one.planned), passage)
        if not found or used + need > room or (by_passage and begun != passage):
            found.append([])
            used = 0
        found[-1].append(part)
        used, passage = used + need, begun
    return found


def _parts(bar: Sequence[Column], room: int) -> Iterator[Part]:
    begun: list[Column] = []
    used = 1
    for column in bar:
        if begun and used + column.width > room:
            yield Part(tuple(begun), closed=False)
            begun, used = [], 1
        begun.append(column)
        used += column.width
    yield Part(tuple(begun), closed=True)


def string_line(system: System, string: int, line: str, wire: str) -> str:
    """One string of a system from its first bar line on, drawn with these two signs."""
    cells = (
        "".join((line + column.frets.get(string, "")).ljust(column.width, line) for column in part.columns)
        + (wire if part.closed else "")
        for part in system
    )
    return wire + "".join(cells)
