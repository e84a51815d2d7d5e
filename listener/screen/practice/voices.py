"""The voices as lines: one row per voice from the top, one column per chord, from what was played to what comes.

Between two chords a line runs level for a hold and slants for a move, with its semitones. On top, the planned note is
set against the one that was played: ``E4 =`` or ``E4 ≠ G4``.
"""

from __future__ import annotations

from typing import Final

from rich.cells import cell_len
from rich.style import Style

from listener.judging.verdict import Verdict
from listener.planning.plan import Plan, PlannedStep
from listener.screen.rows import Row, cut, fit, row
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, TOP_NOTE, Theme
from listener.screen.way import rank_on, way_row
from listener.screen.words import heard_name
from listener.session.take.state import Snapshot

COLUMN: Final = 13
_LABEL: Final = 5


def most_voices(snapshot: Snapshot) -> int:
    """The largest number of voices of any chord in the passage that is due: the rows that this panel needs besides its
    heading. Within a passage it stays the same, so that nothing moves while one plays."""
    if not snapshot.plan.steps:
        return 1
    return _passages(snapshot.plan)[min(snapshot.step, len(snapshot.plan.steps) - 1)]


#: The plan that was asked about last, with the most voices of the passage of each step.
_last: tuple[Plan, tuple[int, ...]] | None = None


def _passages(plan: Plan) -> tuple[int, ...]:
    """Counted once for a plan: a frame of a long drill costs no more than one of a short drill."""
    global _last
    if _last is None or _last[0] is not plan:
        most: dict[str, int] = {}
        for planned in plan.steps:
            passage = planned.step.passage
            most[passage] = max(most.get(passage, 0), len(planned.voicing.pitches))
        _last = (plan, tuple(most[planned.step.passage] for planned in plan.steps))
    return _last[1]


def shown_steps(snapshot: Snapshot, columns: int) -> range:
    """Which steps stand in the columns: the target with about a third of the columns before it."""
    total = len(snapshot.plan.steps)
    first = max(0, min(snapshot.step - columns // 3, total - columns))
    return range(first, min(total, first + columns))


def columns_in(width: int) -> int:
    """How many chords stand beside each other."""
    return max(1, (width - _LABEL) // COLUMN)


def blocks_needed(snapshot: Snapshot, width: int) -> int:
    """How many blocks it takes to show every step."""
    return max(1, -(-len(snapshot.plan.steps) // columns_in(width)))


def voice_rows(snapshot: Snapshot, width: int, height: int, theme: Theme, *, blocks: int = 1) -> list[Row]:
    """A heading with the chords' names, then the voices; inner voices give way when there are too many.

    With more ``blocks`` the line goes on below, as on the staves of a page; each takes ``height`` rows.
    """
    columns = columns_in(width)
    steps = shown_steps(snapshot, columns * blocks)
    rows: list[Row] = []
    for first in range(0, len(steps), columns):
        rows += _block(snapshot, steps[first : first + columns], width, height, theme)
    return rows


def _block(snapshot: Snapshot, steps: range, width: int, height: int, theme: Theme) -> list[Row]:
    newest = {index: snapshot.newest[index] for index in steps if index in snapshot.newest}
    if snapshot.verdict is not None:
        newest[snapshot.verdict.step] = snapshot.verdict
    plan = snapshot.plan
    voices = most_voices(snapshot)
    count = min(voices, height - 1)
    rows = [_heading(snapshot, steps, newest, width, theme)]
    for line in range(count):
        label = "top" if line == 0 else str(voices if line == count - 1 else line + 1)
        cells = row((f"{label:<{_LABEL}}", QUIET))
        for index in steps:
            planned = plan.steps[index]
            after = plan.steps[index + 1] if index + 1 < len(plan.steps) else None
            style = BOLD if index == snapshot.step else PLAIN
            rank = rank_on(len(planned.voicing.pitches), line, count)
            cells += _cell(planned, after, rank, newest.get(index), style, theme)
        rows.append(cells)
    return rows


def _heading(snapshot: Snapshot, steps: range, newest: dict[int, Verdict], width: int, theme: Theme) -> Row:
    line = theme.signs.line
    cells = row((line * (_LABEL - 1), QUIET))
    for index in steps:
        chord = theme.chord(snapshot.plan.steps[index].voicing.chord)
        verdict = newest.get(index)
        here = index == snapshot.step and snapshot.target is not None
        sign = theme.signs.here if here else theme.signs.grade(verdict.grade) if verdict else ""
        style = NOW if here else theme.grade(verdict.grade) if verdict else BOLD
        shown = cut(f" {sign} {chord} " if sign else f" {chord} ", COLUMN - 1, theme)
        cells += row((shown, style), (line * (COLUMN - cell_len(shown)), QUIET))
    return fit([*cells, *row((line * max(0, width - _LABEL + 1 - COLUMN * len(steps)), QUIET))], width, theme)


def _cell(
    planned: PlannedStep, after: PlannedStep | None, rank: int, verdict: Verdict | None, style: Style, theme: Theme
) -> Row:
    """One voice of one chord, and its way to the next chord."""
    names = planned.voicing.names
    if rank >= len(names):
        return row(" " * COLUMN)
    name = theme.words(names[-1 - rank])
    parts: Row = row((name, TOP_NOTE if rank == 0 else style))
    if rank == 0 and verdict is not None:
        parts += _played(planned, verdict, theme)
    used = sum(segment.cell_length for segment in parts)
    room = COLUMN - used - 2
    there = after.voicing.midi if after is not None and room > 0 else None
    way = way_row(planned.voicing.midi, there, rank, room, theme) if there is not None else row("")
    return fit([*parts, *row(" "), *way], COLUMN, theme)


def _played(planned: PlannedStep, verdict: Verdict, theme: Theme) -> Row:
    """Planned top note against the played one."""
    if not verdict.heard:
        return row((f" {theme.signs.differs} -", BOLD))
    if verdict.heard[-1] == planned.voicing.midi[-1]:
        return row((f" {theme.signs.same}", QUIET))
    return row((f" {theme.signs.differs} {heard_name(verdict.heard[-1], planned, theme)}", NOW))
