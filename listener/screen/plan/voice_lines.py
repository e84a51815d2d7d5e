"""The voices of a plan as lines: a row for each voice from the top, a column for each chord, the way between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len

from listener.planning.plan import Plan, PlannedStep
from listener.screen.plan.folding import stretches
from listener.screen.plan.shapes import step_head
from listener.screen.rows import Row, cut, filled, row
from listener.screen.theme import BOLD, PLAIN, QUIET, TOP_NOTE, Theme
from listener.screen.way import way_row

_LABEL: Final = 5
#: Cells for the way from one chord to the next: a line with a sign and two digits in it.
_WAY: Final = 5


def voice_line_rows(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Blocks of as many chords as the width allows; repeated bars are named, not shown again."""
    head = max((cell_len(step_head(planned, theme)) for planned in plan.steps), default=1)
    note = max((cell_len(_note(planned, rank, theme)) for planned in plan.steps for rank in _ranks(planned)), default=4)
    each = max(head + 2, note + _WAY + 2)
    in_block = max(1, (width - _LABEL) // each)
    after = {one.step.index: other for one, other in zip(plan.steps, plan.steps[1:], strict=False)}
    rows: list[Row] = []
    for stretch in stretches(plan):
        rows += [[]] if rows else []
        if stretch.like:
            rows.append(row((stretch.words(theme), QUIET)))
            continue
        steps = stretch.steps
        for first in range(0, len(steps), in_block):
            rows += [[]] if first else []
            rows += _block(steps[first : first + in_block], after, each, theme)
    return rows


def _block(steps: Sequence[PlannedStep], after: dict[int, PlannedStep], each: int, theme: Theme) -> list[Row]:
    heads = [step_head(planned, theme) for planned in steps]
    rows = [row(" " * _LABEL, *((filled(cut(text, each - 1, theme), each), BOLD) for text in heads))]
    for rank in range(max(len(planned.voicing.pitches) for planned in steps)):
        cells = row(("top".ljust(_LABEL) if rank == 0 else str(rank + 1).ljust(_LABEL), QUIET))
        for planned in steps:
            cells += _cell(planned, after.get(planned.step.index), rank, each, theme)
        rows.append(cells)
    return rows


def _cell(planned: PlannedStep, after: PlannedStep | None, rank: int, each: int, theme: Theme) -> Row:
    """One voice of one chord and its way to the next chord."""
    if rank not in _ranks(planned):
        return row(" " * each)
    text = _note(planned, rank, theme)
    cells = row((text, TOP_NOTE if rank == 0 else PLAIN), " ")
    room = each - cell_len(text) - 2
    there = after.voicing.midi if after is not None else None
    way = way_row(planned.voicing.midi, there, rank, room, theme) if there is not None else row(" " * room)
    return [*cells, *way, *row(" ")]


def _note(planned: PlannedStep, rank: int, theme: Theme) -> str:
    """Note and degree: ``E4  3``."""
    voicing = planned.voicing
    return theme.words(f"{voicing.names[-1 - rank]:<3} {voicing.degrees[-1 - rank]}")


def _ranks(planned: PlannedStep) -> range:
    return range(len(planned.voicing.pitches))
