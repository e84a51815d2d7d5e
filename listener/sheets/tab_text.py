"""A plan as plain text for a message to a student: ASCII, sixty columns, shapes and tab.

The tab needs a font whose letters are all equally wide; the shapes above it say the same in words that stand any font.
The row ``top`` names the top line, and a star stands behind its frets. Frets count from the capo. A chord with a
pattern has a column for each place, and how it is struck stands beneath, in the row ``how``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Final

from listener.guitar.instrument import string_names
from listener.music.pattern import RINGS
from listener.planning.plan import Plan, PlannedStep
from listener.sheets.bars import Bar, BarSlot, bars_of
from listener.sheets.plain_ascii import ascii_lines, ascii_text
from listener.sheets.tab_layout import LEAST, Column, System, string_line, systems

WIDTH: Final = 60
CARE: Final = "If a shape hurts, leave it out. Pain means stop."
_TOP: Final = "*"
_HOW: Final = "how"
#: Columns of a place of a pattern, at least.
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
        frets = _frets(planned)
        shape = " ".join(frets.get(string, "x") for string in range(plan.string_count, 0, -1))
        rows[planned.voicing.chord.symbol, shape] = None
    longest = max(len(name) for name, _ in rows)
    return [*lines, *(f"{name:<{longest}}  {shape}" for name, shape in rows)]


def _from(plan: Plan) -> str:
    return "counted from the capo" if plan.capo else "from the nut"


def _tab(plan: Plan, width: int) -> list[list[str]]:
    names = [ascii_text(name) for name in string_names(plan.tuning, plan.string_count)]
    label = max([len(_ROW), *map(len, names)]) + 1
    quarters = Fraction(4, plan.drill.meter[1])
    bars = bars_of(plan, as_played=True) if plan.steps else ()
    found = []
    passage = ""
    for system in systems((_columns(bar, quarters) for bar in bars), width - label - 1, by_passage=True):
        begun = next((one.planned.step for part in system for one in part.columns if one.planned), None)
        heading: list[str] = []
        if begun is not None and begun.passage != passage:
            passage = begun.passage
            heading = ascii_lines(passage, width)
            heading += ascii_lines(begun.pattern.words, width, then="  ") if begun.pattern is not None else []
        found.append([*heading, *_system(system, names, label)])
    return found


def _columns(bar: Bar, quarters: Fraction) -> list[Column]:
    found = []
    for slot in bar.slots:
        found += [_chord_column(bar, slot, quarters)] if slot.placed is None else _place_columns(bar, slot, quarters)
    return found


def _column(
    when: str, name: str, top: str, frets: Mapping[int, str], planned: PlannedStep | None, sign: str = ""
) -> Column:
    """Room for the texts and frets, a dash or blank before and behind."""
    widest = max(len(text) + 2 for text in (name, top, *frets.values()))
    least = max(len(when) + 1, len(sign) + 1, _LEAST_PLACE) if sign else max(len(when) + 2, LEAST)
    return Column(when, name, frets, max(widest, least), planned, top, sign)


def _chord_column(bar: Bar, slot: BarSlot, quarters: Fraction) -> Column:
    """A chord struck once, held over the bar line, or a rest."""
    planned = slot.planned
    when = _when(bar, slot.start / quarters)
    if planned is None:
        return _column(when, "N.C." if slot.length == bar.length else "rest", "", {}, None)
    if not slot.begins:
        return _column(when, "~", "", {}, planned)
    return _column(when, planned.voicing.chord.symbol, str(planned.voicing.top), _frets(planned), planned)


def _place_columns(bar: Bar, slot: BarSlot, quarters: Fraction) -> list[Column]:
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
        found.append(_column(when, name, top, frets, planned, sign))
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


def _system(system: System, names: Sequence[str], label: int) -> list[str]:
    """Bar and beat, chord name, top note, then a line for each string, and how patterns are struck."""
    rows = [
        _words("", system, label, lambda one: one.when),
        _words("", system, label, lambda one: one.name),
        _words(_ROW, system, label, lambda one: one.top),
    ]
    for string, name in enumerate(names, start=1):
        rows.append(f"{name:<{label}}{string_line(system, string, '-', '|')}")
    if any(one.sign for part in system for one in part.columns):
        rows.append(_words(_HOW, system, label, lambda one: one.sign))
    return rows


def _words(name: str, system: System, label: int, text: Callable[[Column], str]) -> str:
    """A text of each column, over or under its frets."""
    cells = ("".join(f" {text(one)}".ljust(one.width) for one in part.columns) for part in system)
    return f"{name:<{label}} {' '.join(cells)}"


def _frets(planned: PlannedStep) -> dict[int, str]:
    """The frets by string, with the star of the top note."""
    fingering = planned.fingering
    top = fingering.strings[-1]
    return {string: f"{fret}{_TOP if string == top else ''}" for string, fret in fingering.by_string.items()}
