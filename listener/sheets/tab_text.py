"""A plan as plain text for a message to a student: ASCII, sixty columns, shapes and tab.

The tab needs a font whose letters are all equally wide; the shapes above it say the same in words that stand any font.
The row ``top`` names the top line, and a star stands behind its frets. Frets count from the capo. A chord with a
pattern has a column for each place, and how it is struck stands beneath, in the row ``how``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from listener.music.pattern import RINGS
from listener.planning.plan import Plan, PlannedStep
from listener.sheets.bars import Bar, Slot, bars_of
from listener.sheets.plain_ascii import ascii_lines, ascii_text

WIDTH: Final = 60
CARE: Final = "If a shape hurts, leave it out. Pain means stop."
_TOP: Final = "*"
_HOW: Final = "how"
#: Columns of a chord, and of a place of a pattern, at least.
_LEAST: Final = 5
_LEAST_PLACE: Final = 3
#: How what lies between two beats is counted, in a place's narrow column: two and, two e and a (common practice).
_BETWEEN: Final = {Fraction(1, 2): "&", Fraction(1, 4): "e", Fraction(3, 4): "a"}
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
    """One chord, place of a pattern, or rest in the tab: the texts over it, the frets by string, what stands beneath.

    It is ``first`` in its bar, or ``last`` before a bar line.
    """

    when: str
    name: str
    top: str
    frets: Mapping[int, str]
    planned: PlannedStep | None
    first: bool
    last: bool
    sign: str = ""

    @property
    def width(self) -> int:
        """Room for the texts and frets, a dash or blank before and behind."""
        widest = max(len(text) + 2 for text in (self.name, self.top, *self.frets.values()))
        if not self.sign:
            return max(widest, len(self.when) + 2, _LEAST)
        return max(widest, len(self.when) + 1, len(self.sign) + 1, _LEAST_PLACE)


def _tab(plan: Plan, width: int) -> list[list[str]]:
    names = [ascii_text(name.rstrip("0123456789-")) for name in reversed(plan.tuning)]
    label = max([len(_ROW), *map(len, names)]) + 1
    quarters = Fraction(4, plan.drill.meter[1])
    bars = bars_of(plan, as_played=True) if plan.steps else ()
    columns = [column for bar in bars for column in _columns(bar, quarters)]
    found = []
    passage = ""
    for system in _systems(columns, width - label - 1):
        begun = next((one.planned.step for one in system if one.planned), None)
        heading: list[str] = []
        if begun is not None and begun.passage != passage:
            passage = begun.passage
            heading = ascii_lines(passage, width)
            heading += ascii_lines(begun.pattern.words, width, then="  ") if begun.pattern is not None else []
        found.append([*heading, *_system(system, names, label)])
    return found


def _columns(bar: Bar, quarters: Fraction) -> list[_Column]:
    found = []
    for slot in bar.slots:
        found += [_chord_column(bar, slot, quarters)] if slot.placed is None else _place_columns(bar, slot, quarters)
    return [replace(one, first=one is found[0], last=one is found[-1]) for one in found]


def _chord_column(bar: Bar, slot: Slot, quarters: Fraction) -> _Column:
    """A chord struck once, held over the bar line, or a rest."""
    planned = slot.planned
    when = _when(bar, slot.start / quarters)
    if planned is None:
        return _Column(when, "N.C." if slot.length == bar.length else "rest", "", {}, None, False, False)
    name, top = (planned.voicing.chord.symbol, str(planned.voicing.top)) if slot.begins else ("~", "")
    frets = {string: _fret(planned, string) for string in planned.fingering.strings} if slot.begins else {}
    return _Column(when, name, top, frets, planned, False, False)


def _place_columns(bar: Bar, slot: Slot, quarters: Fraction) -> list[_Column]:
    """What is struck in a place of a pattern, and the places after it in which it rings on; or a rest."""
    if slot.placed is None:
        return []
    planned, grid = slot.planned, slot.placed.length_beats * quarters
    found = []
    for number in range(-(-slot.length // grid)):
        begins = number == 0 and slot.begins
        opens = begins and slot.opens and planned is not None
        fingering = planned.fingering if planned is not None and begins else None
        frets = {fingering.strings[rank]: f"{fingering.frets[rank]}" for rank in slot.ranks} if fingering else {}
        name, top = (planned.voicing.chord.symbol, str(planned.voicing.top)) if opens and planned else ("", "")
        when = _when(bar, (slot.start + number * grid) / quarters, in_words=True)
        sign = str(slot.placed.place) if begins else RINGS
        found.append(_Column(when, name, top, frets, planned, False, False, sign))
    return found


def _when(bar: Bar, beats: Fraction, *, in_words: bool = False) -> str:
    """The bar on its first beat, else the beat behind a point; ``in_words`` shortens what is counted between beats."""
    if beats == 0:
        return f"{bar.number}"
    part = beats % 1
    if in_words and part:
        return _BETWEEN.get(part, "")
    return f".{_beat(beats + 1)}"


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
        begun = next((one.planned.step.passage for one in piece if one.planned), passage)
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
    """Bar and beat, chord name, top note, then a line for each string, and how patterns are struck."""
    rows = [
        _words("", [one.when for one in system], system, label),
        _words("", [one.name for one in system], system, label),
        _words(_ROW, [one.top for one in system], system, label),
    ]
    for string, name in enumerate(names, start=1):
        cells = "".join(_cell(one, string) for one in system)
        rows.append(f"{name:<{label}}|{cells}")
    signs = [one.sign for one in system]
    return [*rows, _words(_HOW, signs, system, label)] if any(signs) else rows


def _words(name: str, texts: Sequence[str], system: Sequence[_Column], label: int) -> str:
    cells = (f" {text}".ljust(one.width + one.last) for text, one in zip(texts, system, strict=True))
    return f"{name:<{label}} {''.join(cells)}"


def _cell(column: _Column, string: int) -> str:
    return f"-{column.frets.get(string, '')}".ljust(column.width, "-") + ("|" if column.last else "")


def _fret(planned: PlannedStep, string: int) -> str:
    """The fret on a string, with the star of the top note; nothing where the string is silent."""
    fingering = planned.fingering
    if string not in fingering.strings:
        return ""
    index = fingering.strings.index(string)
    return f"{fingering.frets[index]}{_TOP if index == len(fingering.strings) - 1 else ''}"
