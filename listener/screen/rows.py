"""Rows of styled cells: what every panel is made of.

A row is a list of rich segments on one line. Panels give back rows; the dashboard puts them side by side and on top
of each other; :class:`Canvas` is what rich prints. All widths are terminal cells.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from rich.cells import cell_len, set_cell_size
from rich.console import Console, ConsoleOptions
from rich.measure import Measurement
from rich.segment import Segment
from rich.style import Style

from listener.screen.theme import BOLD, QUIET, Theme

Row = list[Segment]
Part = str | tuple[str, Style]


def row(*parts: Part) -> Row:
    """One row from words and (words, style) pairs."""
    return [Segment(part) if isinstance(part, str) else Segment(part[0], part[1]) for part in parts if part]


def merged(cells: Iterable[tuple[str, Style]]) -> Row:
    """One row from many small parts, neighbours of one style joined: fewer segments are quicker to fit and to print."""
    return [
        Segment("".join(text for text, _ in group), style) for style, group in groupby(cells, key=lambda part: part[1])
    ]


def row_width(cells: Row) -> int:
    """How many cells a row takes."""
    return cell_len("".join([segment.text for segment in cells]))


def fit(cells: Row, width: int, theme: Theme) -> Row:
    """The row at exactly this width: padded with blanks, or cut with a sign that something is missing."""
    have = row_width(cells)
    if have == width:
        return cells
    if have < width:
        return [*cells, Segment(" " * (width - have))]
    if width <= 0:
        return []
    kept = Segment.adjust_line_length(cells, width - 1)
    return [*kept, Segment(theme.signs.more, kept[-1].style if kept else None)]


def cut(text: str, width: int, theme: Theme) -> str:
    """The text, shortened to at most this width."""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, max(0, width - 1)) + theme.signs.more if width > 0 else ""


def filled(text: str, width: int) -> str:
    """The text with blanks behind it up to this width."""
    return text + " " * (width - cell_len(text))


def ends(left: Row, right: Row, width: int, theme: Theme) -> Row:
    """One row with something at both ends; the left one gives way."""
    right_width = min(row_width(right), width)
    return [*fit(left, width - right_width, theme), *fit(right, right_width, theme)]


def block(rows: Sequence[Row], width: int, height: int, theme: Theme) -> list[Row]:
    """Exactly ``height`` rows of exactly ``width`` cells."""
    shown = [fit(cells, width, theme) for cells in rows[:height]]
    return shown + [[Segment(" " * width)] for _ in range(height - len(shown))]


def beside(blocks: Iterable[tuple[Sequence[Row], int]], height: int, theme: Theme) -> list[Row]:
    """Panels next to each other, each at its width."""
    columns = [block(rows, width, height, theme) for rows, width in blocks]
    return [[segment for column in columns for segment in column[index]] for index in range(height)]


def rule(label: str, width: int, theme: Theme, right: Row | None = None) -> Row:
    """A quiet line with a label near its left end, and something near its right end; it separates without boxing in."""
    line = theme.signs.line
    if not label:
        return row((line * width, QUIET))
    shown = cut(label, max(0, width - 4), theme)
    behind = [*row(" "), *right, *row(" ", (line, QUIET))] if right else []
    dashes = max(0, width - 3 - cell_len(shown) - row_width(behind))
    return [*row((line, QUIET), (f" {shown} ", BOLD), (line * dashes, QUIET)), *behind]


def wrapped(text: str, width: int, lines: int, theme: Theme) -> list[str]:
    """The text broken between words into at most ``lines`` lines; the last one shows when there was more."""
    if lines <= 0 or width <= 0:
        return []
    broken = textwrap.wrap(text, width)
    if len(broken) <= lines:
        return broken
    last = broken[lines - 1]
    return [*broken[: lines - 1], cut(last, width - 1, theme).rstrip(theme.signs.more) + theme.signs.more]


@dataclass(frozen=True)
class Region:
    """A rectangle of the screen; ``left`` and ``top`` count from 0."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Canvas:
    """A finished picture. ``verdict`` is where the newest verdict stands, for redrawing it alone."""

    rows: tuple[Row, ...]
    width: int
    verdict: Region | None = None

    @property
    def height(self) -> int:
        """Number of rows."""
        return len(self.rows)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        for index, cells in enumerate(self.rows):
            if index:
                yield Segment.line()
            yield from cells

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        return Measurement(self.width, self.width)


def canvas(rows: Sequence[Row], width: int, height: int, theme: Theme, verdict: Region | None = None) -> Canvas:
    """The rows as one picture of exactly that size, pure ASCII if the theme asks for it."""
    return Canvas(tuple(_spelled(cells, theme) for cells in block(rows, width, height, theme)), width, verdict)


def page(rows: Sequence[Row], width: int, theme: Theme) -> Canvas:
    """The rows as something to print: no wider than ``width``, without blanks at the ends of lines."""
    shown = []
    for cells in rows:
        kept = list(fit(cells, width, theme) if row_width(cells) > width else cells)
        while kept and not kept[-1].text.strip():
            kept.pop()
        if kept:
            kept[-1] = Segment(kept[-1].text.rstrip(), kept[-1].style)
        shown.append(_spelled(kept, theme))
    return Canvas(tuple(shown), width)


def _spelled(cells: Row, theme: Theme) -> Row:
    return [_ascii(segment) for segment in cells] if theme.ascii_only else cells


def _ascii(segment: Segment) -> Segment:
    if segment.text.isascii():
        return segment
    text = "".join(char if char.isascii() else "?" * cell_len(char) for char in segment.text)
    return Segment(text, segment.style)
