"""Tab of a plan: one line for each string, highest on top, bars divided, chord names above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rich.cells import cell_len

from listener.guitar.instrument import string_names
from listener.planning.plan import Plan, PlannedStep
from listener.screen.plan.folding import stretches
from listener.screen.rows import Row, filled, row
from listener.screen.theme import BOLD, QUIET, Theme
from listener.sheets.tab_layout import LEAST, Column, System, string_line, systems


def tab_rows(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Systems of as many bars as fit in ``width`` cells; a bar that is too wide by itself is broken between chords,
    and bars that repeat others are only named."""
    names = string_names(plan.tuning, plan.string_count)
    label = 2 + max(map(cell_len, names), default=1)
    rows: list[Row] = []
    for stretch in stretches(plan):
        if stretch.like:
            rows += [*([[]] if rows else []), row((" " * label + stretch.words(theme), QUIET))]
            continue
        bars = [[_column(planned, theme) for planned in bar] for bar in stretch.bars]
        for system in systems(bars, width - label - 2):
            rows += [[]] if rows else []
            rows += _system_rows(system, names, label, theme)
    return rows


def _column(planned: PlannedStep, theme: Theme) -> Column:
    """Frets end below one another; room for the chord's name and a blank."""
    name = theme.chord(planned.voicing.chord)
    frets = {string: str(fret).rjust(2, theme.signs.line) for string, fret in planned.fingering.by_string.items()}
    return Column(str(planned.step.bar), name, frets, max(cell_len(name) + 1, LEAST), planned)


def _system_rows(system: System, names: Sequence[str], label: int, theme: Theme) -> list[Row]:
    """Bar numbers, chords and strings; a bar that goes on in the next system has a line at its end as well."""
    blank = " " * (label + 1)
    numbers = "".join(part.columns[0].when.ljust(part.width + 1) for part in system)
    chords = " ".join("".join(filled(column.name, column.width) for column in part.columns) for part in system)
    rows = [row(((blank + numbers).rstrip(), QUIET)), row(((blank + chords).rstrip(), BOLD))]
    closed = [replace(part, closed=True) for part in system]
    signs = theme.signs
    for string, name in enumerate(names, start=1):
        rows.append(row(theme.words(name).ljust(label) + string_line(closed, string, signs.line, signs.bar)))
    return rows
