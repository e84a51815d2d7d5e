"""A plan as plain text for a message to a student: ASCII, sixty columns, shapes and tab.

The tab needs a font whose letters are all equally wide; the shapes above it say the same in words that stand any font.
The row ``top`` names the top line, and a star stands behind its frets. Frets count from the capo.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.planning.plan import Plan, PlannedStep
from listener.sheets.bars import Bar, Slot, bars_of
from listener.sheets.plain_ascii import ascii_lines, ascii_text

WIDTH: Final = 60
CARE: Final = "If a shape hurts, leave it out. Pain means stop."
_TOP: Final = "*"
_ROW: Final = "top"


def tab_text(plan: Plan, *, width: int = WIDTH) -> str:
    """The whole message, lines of at most ``width`` columns (40 at least), ending with a line end."""
    width = max(width, 40)
    blocks = [_heading(plan, width), _shapes(plan, width), *_tab(plan, width), ascii_lines(CARE, width)]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"


def _heading(plan: Plan, width: int) -> list[str]:
    drill = plan.drill
    capo = f", capo at fret {plan.capo}" if plan.capo else ""
    facts = f"{drill.key}, {drill.meter[0]}/{drill.meter[1]}, {drill.tempo:g} beats a minute"
    lines = ascii_lines(drill.title or drill.name, width)
    lines += ascii_lines(facts, width)
    lines += ascii_lines(f"Tuning from the lowest string: {' '.join(plan.tuning)}{capo}", width, then="  ")
    for remark in drill.notes:
        lines += ascii_lines(remark, width)
    if drill.listen_for:
        lines += ["", *ascii_lines(f"Listen for: {drill.listen_for}", width)]
    return lines


def _shapes(plan: Plan, width: int) -> list[str]:
    """Each different shape once: frets from the lowest string to the highest."""
    if not plan.steps:
        return []
    lines = ascii_lines(
        f"Shapes, lowest string first (x: not played, {_TOP}: top note, frets {_from(plan)}):", width, then="  "
    )
    rows: dict[tuple[str, str], None] = {}
    for planned in plan.steps:
        frets = " ".join(_fret(planned, string) or "x" for string in range(plan.string_count, 0, -1))
        rows[planned.voicing.chord.symbol, frets] = None
    longest = max(len(name) for name, _ in rows)
    return [*lines, *(f"{name:<{longest}}  {frets}" for name, frets in rows)]


def _from(plan: Plan) -> str:
    return "counted from the capo" if plan.capo else "from the nut"


@dataclass(frozen=True, slots=True)
class _Column:
    """One chord or rest in the tab; ``first`` in its bar, ``last`` before a bar line."""

    bar: int
    beat: str
    slot: Slot
    first: bool
    last: bool

    @property
    def name(self) -> str:
        if self.slot.planned is None:
            return "N.C." if self.first and self.last else "rest"
        return self.slot.planned.voicing.chord.symbol if self.slot.begins else "~"

    @property
    def top(self) -> str:
        return str(self.slot.planned.voicing.top) if self.slot.planned and self.slot.begins else ""

    @property
    def width(self) -> int:
        """Room for the texts and a two-digit fret with its star, and a dash behind."""
        return max(len(self.name) + 2, len(self.top) + 2, len(self.beat) + 3, 5)


def _tab(plan: Plan, width: int) -> list[list[str]]:
    names = [ascii_text(name.rstrip("0123456789-")) for name in reversed(plan.tuning)]
    label = max([len(_ROW), *map(len, names)]) + 1
    quarters = Fraction(4, plan.drill.meter[1])
    columns = [column for bar in bars_of(plan) for column in _columns(bar, quarters)] if plan.steps else []
    found = []
    passage = ""
    for system in _systems(columns, width - label - 1):
        begun = next((one.slot.planned.step.passage for one in system if one.slot.planned), passage)
        heading = ascii_lines(begun, width) if begun != passage else []
        passage = begun
        found.append([*heading, *_system(system, names, label)])
    return found


def _columns(bar: Bar, quarters: Fraction) -> list[_Column]:
    last = len(bar.slots) - 1
    return [
        _Column(bar.number, _beat(slot.start / quarters + 1), slot, index == 0, index == last)
        for index, slot in enumerate(bar.slots)
    ]


def _beat(beat: Fraction) -> str:
    """1, 2 and so on; "2&" half a beat later, two decimals for anything else."""
    whole, rest = divmod(beat, 1)
    return f"{whole}" if not rest else f"{whole}&" if rest == Fraction(1, 2) else f"{float(beat):.2f}"


def _systems(columns: Iterable[_Column], width: int) -> list[list[_Column]]:
    """Whole bars as long as they fit, new passages on a new line; a bar that is too wide is broken between chords."""
    systems: list[list[_Column]] = []
    used, passage = width, ""
    for piece in (part for bar in _bars(columns) for part in _parts(bar, width)):
        need = 1 + sum(column.width for column in piece)
        begun = next((one.slot.planned.step.passage for one in piece if one.slot.planned), passage)
        if used + need > width or begun != passage:
            systems.append([])
            used = 0
        systems[-1] += piece
        used, passage = used + need, begun
    return systems


def _bars(columns: Iterable[_Column]) -> list[list[_Column]]:
    bars: list[list[_Column]] = []
    for column in columns:
        if column.first:
            bars.append([])
        bars[-1].append(column)
    return bars


def _parts(bar: list[_Column], width: int) -> list[list[_Column]]:
    parts: list[list[_Column]] = [[]]
    used = 1
    for column in bar:
        if parts[-1] and used + column.width > width:
            parts.append([])
            used = 1
        parts[-1].append(column)
        used += column.width
    return parts


def _system(system: Sequence[_Column], names: Sequence[str], label: int) -> list[str]:
    """Bar and beat, chord name, top note, then a line for each string."""
    rows = [
        _words("", [f"{one.bar}" if one.beat == "1" else f".{one.beat}" for one in system], system, label),
        _words("", [one.name for one in system], system, label),
        _words(_ROW, [one.top for one in system], system, label),
    ]
    for string, name in enumerate(names, start=1):
        cells = "".join(_cell(one, string) for one in system)
        rows.append(f"{name:<{label}}|{cells}")
    return rows


def _words(name: str, texts: Sequence[str], system: Sequence[_Column], label: int) -> str:
    cells = (f" {text}".ljust(one.width + one.last) for text, one in zip(texts, system, strict=True))
    return f"{name:<{label}} {''.join(cells)}"


def _cell(column: _Column, string: int) -> str:
    planned = column.slot.planned if column.slot.begins else None
    fret = _fret(planned, string) if planned is not None else ""
    return f"-{fret}".ljust(column.width, "-") + ("|" if column.last else "")


def _fret(planned: PlannedStep, string: int) -> str:
    """The fret on a string, with the star of the top note; nothing where the string is silent."""
    fingering = planned.fingering
    if string not in fingering.strings:
        return ""
    index = fingering.strings.index(string)
    return f"{fingering.frets[index]}{_TOP if index == len(fingering.strings) - 1 else ''}"
