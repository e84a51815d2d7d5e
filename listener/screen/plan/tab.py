"""Tab of a plan: one line for each string, highest on top, bars divided, chord names above."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from listener.planning.plan import Plan, PlannedStep
from listener.screen.neck import string_names
from listener.screen.plan.folding import Bar, stretches
from listener.screen.rows import Row, cut, row
from listener.screen.theme import BOLD, QUIET, Theme


def tab_rows(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Systems of as many bars as fit in ``width`` cells; a bar that is too wide by itself is broken between chords,
    and bars that repeat others are only named."""
    label = 2 + max((cell_len(name) for name in string_names(plan.tuning, plan.string_count)), default=1)
    rows: list[Row] = []
    for stretch in stretches(plan):
        if stretch.like:
            rows += [*([[]] if rows else []), row((" " * label + stretch.words(theme), QUIET))]
            continue
        for system in _systems(stretch.bars, width - label - 2, theme):
            rows += [[]] if rows else []
            rows += _system_rows(plan, system, label, theme)
    return rows


def _column_width(planned: PlannedStep, theme: Theme) -> int:
    """Room for the chord's name or its widest fret number, with space around."""
    return max(cell_len(theme.chord(planned.voicing.chord)) + 1, 5)


def _systems(bars: Sequence[Bar], width: int, theme: Theme) -> list[list[Bar]]:
    systems: list[list[Bar]] = [[]]
    used = 0
    for bar in (part for whole in bars for part in _parts(whole, width, theme)):
        need = 1 + sum(_column_width(planned, theme) for planned in bar)
        if systems[-1] and used + need > width:
            systems.append([])
            used = 0
        systems[-1].append(bar)
        used += need
    return [system for system in systems if system]


def _parts(bar: Bar, width: int, theme: Theme) -> list[Bar]:
    parts: list[list[PlannedStep]] = [[]]
    used = 1
    for planned in bar:
        need = _column_width(planned, theme)
        if parts[-1] and used + need > width:
            parts.append([])
            used = 1
        parts[-1].append(planned)
        used += need
    return [tuple(part) for part in parts]


def _system_rows(plan: Plan, system: Sequence[Bar], label: int, theme: Theme) -> list[Row]:
    line, wire = theme.signs.line, theme.signs.bar
    numbers, names = " " * label, " " * label
    for bar in system:
        width = sum(_column_width(planned, theme) for planned in bar)
        numbers += f" {bar[0].step.bar}".ljust(width + 1)
        names += " " + "".join(
            _padded(theme.chord(planned.voicing.chord), _column_width(planned, theme), theme) for planned in bar
        )
    rows = [row((f"{numbers.rstrip()}", QUIET)), row((names.rstrip(), BOLD))]
    for string, name in enumerate(string_names(plan.tuning, plan.string_count), start=1):
        cells = theme.words(name).ljust(label)
        for bar in system:
            frets = (_fret(planned, string).rjust(2, line) for planned in bar)
            widths = (_column_width(planned, theme) for planned in bar)
            cells += wire + "".join((line + fret).ljust(width, line) for fret, width in zip(frets, widths, strict=True))
        rows.append(row(cells + wire))
    return rows


def _padded(text: str, width: int, theme: Theme) -> str:
    shown = cut(text, width, theme)
    return shown + " " * (width - cell_len(shown))


def _fret(planned: PlannedStep, string: int) -> str:
    """The fret on this string, or nothing."""
    fingering = planned.fingering
    return str(fingering.frets[fingering.strings.index(string)]) if string in fingering.strings else ""
