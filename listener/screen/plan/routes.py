"""The best other routes through a drill beside the plan: shapes in a column each, what differs marked.

``≠`` stands before a chord that sounds different from the plan's, ``=`` before one that only lies elsewhere on the
neck; where nothing is written after it, it is the very same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from rich.cells import cell_len

from listener.plain_words import counted
from listener.planning.plan import Plan, PlannedStep
from listener.screen.plan.shapes import shape_text, step_head
from listener.screen.rows import Row, cut, filled, row
from listener.screen.theme import BOLD, QUIET, Theme

_WIDEST_HEAD: Final = 18


def route_rows(plan: Plan, others: Sequence[Plan], width: int, theme: Theme) -> list[Row]:
    """The comparison in as many blocks as the width asks for, the plan's own column first in each."""
    rows: list[Row] = []
    heads = [cut(step_head(planned, theme), _WIDEST_HEAD, theme) for planned in plan.steps]
    label = 2 + max([len("movement"), *map(cell_len, heads)])
    cells = [[_cell(plan, plan.steps[at], route.steps[at], theme) for at in range(len(heads))] for route in others]
    each = 2 + max(
        [len("movement"), len("route 20"), *(len(_shape(plan, planned)) for planned in plan.steps)]
        + [cell_len(text) for column in cells for text, _ in column]
    )
    in_block = max(1, (width - label) // each - 1)
    for first in range(0, len(others), in_block):
        rows += [[]] if rows else []
        shown = range(first, min(len(others), first + in_block))
        rows += _block(plan, others, shown, heads, cells, label, each, theme)
    signs = theme.signs
    rows.append(row((f"{signs.differs} sounds different, {signs.same} sounds the same as the plan", QUIET)))
    return rows


def _block(
    plan: Plan,
    others: Sequence[Plan],
    shown: range,
    heads: Sequence[str],
    cells: Sequence[Sequence[tuple[str, str]]],
    label: int,
    each: int,
    theme: Theme,
) -> Iterator[Row]:
    titles = ["the plan", *(f"route {index + 2}" for index in shown)]
    yield row(" " * label, *((title.ljust(each), BOLD) for title in titles))
    moved = [plan.total_movement, *(others[index].total_movement for index in shown)]
    yield row(("movement".ljust(label), QUIET), *(f"{_against(total, moved[0])}".ljust(each) for total in moved))
    held = [_held(route) for route in (plan, *(others[index] for index in shown))]
    yield row(("held".ljust(label), QUIET), *(str(count).ljust(each) for count in held))
    same: list[int] = []
    for at, planned in enumerate(plan.steps):
        if all(others[index].steps[at].fingering == planned.fingering for index in shown):
            same.append(at)
            continue
        yield from _alike(same, label)
        same = []
        line = row(filled(heads[at], label), filled(theme.words(_shape(plan, planned)), each))
        for index in shown:
            text, mark = cells[index][at]
            line += row((filled(text, each), BOLD if mark else QUIET))
        yield line
    yield from _alike(same, label)


def _alike(same: Sequence[int], label: int) -> Iterator[Row]:
    if same:
        numbers = str(same[0] + 1) if len(same) == 1 else f"{same[0] + 1} to {same[-1] + 1}"
        yield row((f"{numbers:<{label}}the same in all", QUIET))


def _against(total: int, best: int) -> str:
    return str(total) if total == best else f"{total} ({total - best:+d})"


def _held(plan: Plan) -> int:
    return sum(change.common for change in plan.changes)


def _shape(plan: Plan, planned: PlannedStep) -> str:
    return f"{shape_text(planned.fingering, plan.string_count)} {planned.voicing.top}"


def _cell(plan: Plan, ours: PlannedStep, other: PlannedStep, theme: Theme) -> tuple[str, str]:
    """What stands in an other route's column, and the mark when it sounds different."""
    signs = theme.signs
    if other.fingering == ours.fingering:
        return signs.same, ""
    differs = other.fingering.pitches != ours.fingering.pitches
    mark = signs.differs if differs else signs.same
    return f"{mark} {theme.words(_shape(plan, other))}", mark if differs else ""


def routes_heading(others: Sequence[Plan]) -> str:
    """What stands over the comparison."""
    return f"{counted(len(others), 'other route')}, frets from the lowest string up, and the top note"
