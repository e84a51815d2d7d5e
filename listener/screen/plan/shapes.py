"""Neck diagrams of a plan side by side: every different shape once, with how often it comes."""

from __future__ import annotations

from typing import Final

from rich.cells import cell_len

from listener.guitar.fingering import Fingering, fret_window
from listener.music.naming_words import inversion_words
from listener.music.voicing import OTHER
from listener.planning.plan import Plan, PlannedStep
from listener.screen.neck import neck_rows, neck_width
from listener.screen.rows import Row, beside, cut, row
from listener.screen.theme import BOLD, QUIET, Theme

_CELL: Final = 3


def step_head(planned: PlannedStep, theme: Theme) -> str:
    """Number and chord: ``3 Gmaj7``."""
    return f"{planned.step.index + 1} {theme.chord(planned.voicing.chord)}"


def shape_rows(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """As many diagrams as fit beside each other, in rows of equal columns."""
    found: dict[tuple[str, Fingering], list[PlannedStep]] = {}
    for planned in plan.steps:
        found.setdefault((str(planned.voicing.chord), planned.fingering), []).append(planned)
    different = [(steps[0], len(steps)) for steps in found.values()]
    if not different:
        return []
    head = max(cell_len(_head(planned, count, theme)) for planned, count in different)
    each = min(width, max(head, *(neck_width(planned.fingering, _CELL) for planned, _ in different)) + 2)
    in_row = max(1, width // each)
    rows: list[Row] = []
    for first in range(0, len(different), in_row):
        group = different[first : first + in_row]
        shapes = [(_shape(planned, count, plan, each - 1, theme), each) for planned, count in group]
        rows += ([[]] if rows else []) + beside(shapes, plan.string_count + 3, theme)
    return rows


def shape_text(fingering: Fingering, string_count: int) -> str:
    """The frets from the lowest string up as guitarists write them: ``x32010``, ``x-10-9-10-10-x`` above the ninth."""
    frets = fingering.written(string_count)
    return ("-" if any(len(fret) > 1 for fret in frets) else "").join(frets)


def _head(planned: PlannedStep, count: int, theme: Theme) -> str:
    times = "" if count == 1 else f"  {count} times" if theme.ascii_only else f"  ×{count}"
    return step_head(planned, theme) + times


def _shape(planned: PlannedStep, count: int, plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Number, chord and count, kind and inversion, then the neck."""
    name = cut(step_head(planned, theme), width, theme)
    times = cut(_head(planned, count, theme), width, theme)[len(name) :]
    kind = "free" if planned.voicing.kind == OTHER else planned.voicing.kind
    words = f"{kind}, {_short_inversion(planned)}"
    return [
        row((name, BOLD), (times, QUIET)),
        row((cut(words, width, theme), QUIET)),
        *neck_rows(planned.fingering, plan.string_count, theme, cell=_cell(planned, width)),
    ]


def _cell(planned: PlannedStep, width: int) -> int:
    first, last = fret_window(planned.fingering.frets)
    return _CELL if 3 + (last - first + 1) * (_CELL + 1) <= width else 1


def _short_inversion(planned: PlannedStep) -> str:
    return inversion_words(planned.voicing.inversion).replace(" inversion", " inv.").replace(" position", " pos.")
