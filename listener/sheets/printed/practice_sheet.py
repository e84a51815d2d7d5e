"""A practice sheet to hand out: what the drill is for, its chords with neck diagrams, staff and tab, and care words.

Pages are SVG in millimetres, A4 or US letter. Black is the top line: black notes, bold frets, black dots.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from typing import Final
from xml.etree.ElementTree import Element

from listener.errors import UsageError
from listener.plain_words import capital
from listener.planning.plan import Plan
from listener.sheets.printed.engraving import SCALE, Engraved, System, engrave
from listener.sheets.printed.neck_diagram import diagram_height, draw_diagram
from listener.sheets.printed.sheet_lines import NAME_SIZE_MM, Label, SheetLine, sheet_lines, spread_out
from listener.sheets.printed.svg import QUIET, line, mm, picture, svg_bytes, write
from listener.sheets.printed.text_width import text_width, wrapped
from listener.sheets.xml_text import add, element

#: Width and height in millimetres (ISO 216; ANSI/ASME Y14.1).
PAPERS: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_MARGIN: Final = 15.0
_EDGE: Final = 12.0
_FOOT: Final = 11.0
_TITLE: Final = 6.2
_TEXT: Final = 3.3
_SMALL: Final = 2.8
_LEADING: Final = 1.35
#: Lines of a text that fit on a page beside the others; a drill's texts are far shorter.
_MOST_LINES: Final = 12
_BETWEEN_LINES: Final = 4.5
#: Smaller sizes of the music that are tried where they save a page, and up to how many pages that is worth the time.
_SMALLER: Final = (0.92, 0.85, 0.79)
_MOST_TRIED: Final = 6
#: Chords that anybody prints.
MOST_CHORDS: Final = 1_000
CARE: Final = (
    "Warm up first, keep the thumb light and rest often. If a shape hurts, leave it out. Pain means stop; "
    "if it stays, see a teacher about the way you play and a clinician about the hand."
)


def sheet_pages(plan: Plan, *, paper: str = "a4") -> tuple[bytes, ...]:
    """The pages of the sheet, each a complete SVG file.

    ``paper`` is one of :data:`PAPERS`; diagrams are turned round for a left-handed instrument. Raises UsageError for
    other paper and :class:`listener.sheets.extras.MissingExtra` without verovio.
    """
    size = PAPERS.get(paper.lower())
    if size is None:
        raise UsageError(f"there is no paper '{paper}'; use {' or '.join(PAPERS)}")
    if not plan.steps:
        raise UsageError(f"{plan.drill.name} has no chords, so there is nothing to put on a sheet")
    if len(plan.steps) > MOST_CHORDS:
        raise UsageError(
            f"{plan.drill.name} has {len(plan.steps):,} chords; a sheet takes {MOST_CHORDS:,}, so split the drill"
        )
    left_handed = plan.instrument is not None and plan.instrument.left_handed
    return _Sheet(plan, *size, left_handed).pages()


@dataclass
class _Block:
    """A drawn piece, its upper edge at y = 0, and how high it is."""

    group: Element
    height: float


@dataclass(frozen=True)
class _Layout:
    """Blocks page by page, with the glyphs that their music uses."""

    pages: list[list[_Block]]
    engraved: Engraved


class _Sheet:
    def __init__(self, plan: Plan, width: float, height: float, left_handed: bool) -> None:
        self._plan, self._width, self._height, self._left_handed = plan, width, height, left_handed
        self._inner = width - 2 * _MARGIN

    def pages(self) -> tuple[bytes, ...]:
        """The fewest pages, and of these the ones with the largest music."""
        layout = self._layout(1.0)
        for size in _SMALLER if 1 < len(layout.pages) <= _MOST_TRIED else ():
            layout = min(layout, self._layout(size), key=lambda one: len(one.pages))
        count = len(layout.pages)
        return tuple(
            svg_bytes(self._page(blocks, layout.engraved, number, count))
            for number, blocks in enumerate(layout.pages, start=1)
        )

    def _layout(self, size: float) -> _Layout:
        """With music of this size, 1 being the full one."""
        width = self._inner / size
        lines = sheet_lines(self._plan, width)
        engraved = engrave(self._plan, width, frozenset(row.first_bar for row in lines))
        blocks = [self._heading()]
        for row, system in zip(lines, engraved.systems, strict=True):
            block = self._music(row, system, width)
            scaled = element("g")
            add(scaled, "g", transform=f"scale({size:g})").append(block.group)
            blocks.append(_Block(scaled, block.height * size))
        return _Layout(self._on_pages(blocks), engraved)

    def _on_pages(self, blocks: list[_Block]) -> list[list[_Block]]:
        """Blocks page by page; a page has at least one, whatever its height."""
        room = self._height - 2 * _EDGE - _FOOT
        pages: list[list[_Block]] = [[]]
        used = 0.0
        for block in blocks:
            if pages[-1] and used + block.height > room:
                pages.append([])
                used = 7.0  # the running title
            pages[-1].append(block)
            used += block.height + _BETWEEN_LINES
        return pages

    def _page(self, blocks: list[_Block], engraved: Engraved, number: int, count: int) -> Element:
        title = self._plan.drill.title or self._plan.drill.name
        page = picture(self._width, self._height, title)
        defs = add(page, "defs")
        defs.extend(engraved.glyphs)
        y = _EDGE
        if number > 1:
            write(page, title, _MARGIN, y + _SMALL, _SMALL, ink=QUIET)
            y += 7.0
        for block in blocks:
            block.group.set("transform", f"translate({mm(_MARGIN)} {mm(y)})")
            page.append(block.group)
            y += block.height + _BETWEEN_LINES
        self._footer(page, f"{number} / {count}" if count > 1 else "")
        return page

    def _footer(self, page: Element, number: str) -> None:
        bottom = self._height - _EDGE
        rows = list(wrapped(CARE, _SMALL, self._inner - 12))
        top = bottom - (len(rows) - 1) * _SMALL * _LEADING
        line(page, _MARGIN, top - 4.5, self._width - _MARGIN, top - 4.5, 0.15, QUIET)
        for index, text in enumerate(rows):
            write(page, text, _MARGIN, top + index * _SMALL * _LEADING, _SMALL)
        write(page, number, self._width - _MARGIN, bottom, _SMALL, anchor="end", ink=QUIET)

    def _heading(self) -> _Block:
        drill = self._plan.drill
        group, y = element("g"), _TITLE * 0.8
        for text in _first(wrapped(drill.title or drill.name, _TITLE * 1.13, self._inner), 2):
            write(group, text, 0, y, _TITLE, bold=True)
            y += _TITLE * 1.2
        y -= 1.5
        for text in wrapped(_facts(self._plan), _TEXT, self._inner):
            write(group, text, 0, y, _TEXT, ink=QUIET)
            y += _TEXT * _LEADING
        y += 1.6
        for label, text in (
            ("What it is for", drill.about),
            ("Listen for", drill.listen_for),
            ("Move on", drill.move_on),
            ("Note", " ".join(f"{capital(note)}." for note in drill.notes)),
        ):
            y = self._paragraph(group, label, text, y)
        legend = list(wrapped(_legend(self._plan, self._left_handed), _SMALL, self._inner))
        for text in legend:
            write(group, text, 0, y, _SMALL, ink=QUIET)
            y += _SMALL * _LEADING
        return _Block(group, y)

    def _paragraph(self, group: Element, label: str, text: str, y: float) -> float:
        if not text.strip():
            return y
        indent = text_width(f"{label}  ", _TEXT, bold=True)
        write(group, label, 0, y, _TEXT, bold=True)
        for index, row in enumerate(_first(wrapped(text, _TEXT, self._inner, indent=indent), _MOST_LINES)):
            write(group, row, 0 if index else indent, y, _TEXT)
            y += _TEXT * _LEADING
        return y + 1.2

    def _music(self, row: SheetLine, system: System, width: float) -> _Block:
        """A line of music: the passage's name, chord names, diagrams, then staff and tab."""
        group, y = element("g"), 0.0
        if row.passage:
            write(group, row.passage, 0, _TEXT, _TEXT, italic=True)
            y += _TEXT * 1.5
            for text in wrapped(_pattern_words(row), _SMALL, width):
                y += _SMALL * _LEADING
                write(group, text, 0, y - 1.2, _SMALL, ink=QUIET)
        y = self._labels(group, row.labels, system, y, width)
        music = add(group, "g", transform=f"translate(0 {mm(y - system.top)}) scale({SCALE:g})")
        music.append(system.group)
        return _Block(group, y + system.bottom - system.top)

    def _labels(self, group: Element, labels: tuple[Label, ...], system: System, y: float, width: float) -> float:
        if not labels:
            return y
        strings = self._plan.string_count
        widths = [label.width_mm(strings) for label in labels]
        scale = min(1.0, width / sum(widths))
        widths = [one * scale for one in widths]
        wanted = [system.chord_x[label.number] for label in labels]
        tall = max((diagram_height(one.planned.fingering) for one in labels if one.with_diagram), default=0.0)
        height = NAME_SIZE_MM + 0.8 + tall
        for label, x, at in zip(labels, spread_out(wanted, widths, 0.0, width), wanted, strict=True):
            place = add(group, "g", transform=f"translate({mm(x)} {mm(y)}) scale({scale:.3g})")
            write(place, label.planned.voicing.chord.symbol, 0, NAME_SIZE_MM, NAME_SIZE_MM, anchor="middle", bold=True)
            if label.with_diagram:
                neck = add(place, "g", transform=f"translate(0 {mm(NAME_SIZE_MM + 0.8)})")
                draw_diagram(neck, label.planned.fingering, strings, left_handed=self._left_handed)
            if abs(x - at) > 2.5:
                line(group, x, y + height * scale + 0.4, at, y + height * scale + 1.8, 0.15, QUIET)
        return y + height * scale + 1.8


def _first(lines: Iterable[str], most: int) -> list[str]:
    """Not more than so many lines; what is left out is told by dots."""
    kept = list(islice(lines, most + 1))
    return kept if len(kept) <= most else [*kept[: most - 1], f"{kept[most - 1]} ..."]


def _pattern_words(row: SheetLine) -> str:
    """How the chords of the passage that begins with this line are played; empty where that is open."""
    first = next((slot.planned for bar in row.bars for slot in bar.slots if slot.planned is not None), None)
    pattern = first.step.pattern if first is not None else None
    return capital(pattern.words) if pattern is not None else ""


def _facts(plan: Plan) -> str:
    drill = plan.drill
    capo = f", capo at fret {plan.capo}" if plan.capo else ""
    hand = plan.hand if plan.hand.isalpha() else "measured"
    return (
        f"{drill.key}, {drill.meter[0]}/{drill.meter[1]}, {drill.tempo:g} beats a minute, "
        f"tuning {' '.join(plan.tuning)}{capo}, {hand} hand"
    )


def _legend(plan: Plan, left_handed: bool) -> str:
    from_capo = " Frets count from the capo." if plan.capo else ""
    side = " Diagrams are for left-handed players." if left_handed else ""
    return (
        "Black notes, bold frets and black dots: the top line. Numbers in the diagrams: fingers; beside them: the "
        f"first fret that is drawn; o: an open string; x: not played.{from_capo}{side}"
    )
