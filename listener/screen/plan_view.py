"""A whole plan on paper or screen: shapes, tab, the voices as lines, and how far they move."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from listener.music.movement import Movement, step_word
from listener.planning.plan import Plan, PlannedStep
from listener.screen.neck import fret_window, neck_rows, neck_width
from listener.screen.rows import Canvas, Row, beside, cut, page, row, rule
from listener.screen.tab import tab_rows
from listener.screen.theme import BOLD, QUIET, TOP_NOTE, Theme
from listener.screen.voices import most_voices
from listener.screen.words import counted, inversion_words, number

_CELL = 3
_LABEL = 6


def plan_view(plan: Plan, *, width: int, theme: Theme) -> Canvas:
    """Everything about a plan, as high as it needs to be, never wider than ``width`` cells (made for 60 and up)."""
    rows = [*_heading(plan, width, theme), rule("shapes", width, theme), *_shapes(plan, width, theme)]
    rows += [[], rule("tab", width, theme), *tab_rows(plan, width, theme)]
    rows += [[], rule("voices, from the top", width, theme), *_voices(plan, width, theme)]
    if len(plan.steps) > 1:
        rows += [[], rule("movement in semitones, top voice first", width, theme), *_movements(plan, width, theme)]
    rows += [[], *(row(line) for line in _totals(plan))]
    return page(rows, width, theme)


def _heading(plan: Plan, width: int, theme: Theme) -> list[Row]:
    drill = plan.drill
    capo = f", capo {plan.capo}" if plan.capo else ""
    meter = f"{drill.meter[0]}/{drill.meter[1]}"
    facts = f"{drill.key}, {meter}, {number(drill.tempo)} beats a minute"
    tuning = f"tuning {theme.words(' '.join(plan.tuning))}{capo}, {plan.hand} hand"
    return [row((theme.name(drill.title or drill.name), BOLD)), row((theme.words(facts), QUIET)), row((tuning, QUIET))]


def _shapes(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Neck diagrams side by side, as many as fit, in rows of equal columns."""
    if not plan.steps:
        return []
    head = max(cell_len(_shape_head(planned, theme)) for planned in plan.steps)
    each = min(width, max(head, *(neck_width(planned.fingering, _CELL) for planned in plan.steps)) + 2)
    in_row = max(1, width // each)
    rows: list[Row] = []
    for first in range(0, len(plan.steps), in_row):
        group = plan.steps[first : first + in_row]
        shapes = [(_shape(planned, plan, each - 1, theme), each) for planned in group]
        rows += ([[]] if rows else []) + beside(shapes, plan.string_count + 3, theme)
    return rows


def _shape_head(planned: PlannedStep, theme: Theme) -> str:
    return f"{planned.step.index + 1} {theme.chord(planned.voicing.chord)}"


def _shape(planned: PlannedStep, plan: Plan, width: int, theme: Theme) -> list[Row]:
    """Number and chord, kind and inversion, then the neck."""
    words = f"{planned.voicing.kind}, {_short_inversion(planned)}"
    return [
        row((cut(_shape_head(planned, theme), width, theme), BOLD)),
        row((cut(words, width, theme), QUIET)),
        *neck_rows(planned.fingering, plan.string_count, theme, cell=_cell(planned, width)),
    ]


def _cell(planned: PlannedStep, width: int) -> int:
    first, last = fret_window(planned.fingering)
    return _CELL if 3 + (last - first + 1) * (_CELL + 1) <= width else 1


def _short_inversion(planned: PlannedStep) -> str:
    return inversion_words(planned.voicing.inversion).replace(" inversion", " inv.").replace(" position", " pos.")


def _voices(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """A row for each voice, a column for each step, in as many blocks as the width asks for."""
    cells = [[_voice_cell(planned, rank, theme) for rank in range(most_voices(plan))] for planned in plan.steps]
    heads = [_shape_head(planned, theme) for planned in plan.steps]
    each = 2 + max((cell_len(text) for column in (heads, *cells) for text in column), default=6)
    in_block = max(1, (width - _LABEL) // each)
    rows: list[Row] = []
    for first in range(0, len(plan.steps), in_block):
        last = min(len(plan.steps), first + in_block)
        here = max(len(planned.voicing.pitches) for planned in plan.steps[first:last])
        rows += [[]] if rows else []
        rows.append(_line("", heads[first:last], each, theme, head=True))
        rows += [
            _line(_rank_word(rank), [column[rank] for column in cells[first:last]], each, theme) for rank in range(here)
        ]
    return rows


def _rank_word(rank: int) -> str:
    return "top" if rank == 0 else str(rank + 1)


def _voice_cell(planned: PlannedStep, rank: int, theme: Theme) -> str:
    """Note and degree of the voice that is ``rank`` places below the top, empty when there is none."""
    voicing = planned.voicing
    if rank >= len(voicing.pitches):
        return ""
    return theme.words(f"{voicing.names[-1 - rank]:<4}{voicing.degrees[-1 - rank]}")


def _line(label: str, texts: Sequence[str], each: int, theme: Theme, *, head: bool = False) -> Row:
    style = BOLD if head else TOP_NOTE if label == "top" else None
    cells = row((label.ljust(_LABEL), QUIET))
    for text in texts:
        shown = cut(text, each - 2, theme)
        cells += [*row((shown, style) if style else shown), *row(" " * (each - cell_len(shown)))]
    return cells


def _movements(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """One row per change: sum, every voice, tones held, the largest move and its word."""
    changes = [(planned.step.index, planned.movement) for planned in plan.steps if planned.movement is not None]
    names = [_change(plan, index, theme) for index, _ in changes]
    voices = [_voice_moves(moved) for _, moved in changes]
    wide_name = min(30, max((cell_len(name) for name in names), default=0))
    wide_voices = max([len("voices"), *(len(text) for text in voices)])
    head = f"{'change':<{wide_name}}  {'sum':>3}  {'voices':<{wide_voices}}  held  largest"
    rows = [row((head, QUIET))]
    for name, text, (_, moved) in zip(names, voices, changes, strict=True):
        shown = cut(name, wide_name, theme)
        name_cells = shown + " " * (wide_name - cell_len(shown))
        words = f"{moved.largest:>2} {step_word(moved.largest)}"
        tail = row((words, BOLD)) if step_word(moved.largest) == "leap" else row(words)
        rows.append([*row(f"{name_cells}  {moved.semitones:>3}  {text:<{wide_voices}}  {moved.common:>4}  "), *tail])
    return rows


def _change(plan: Plan, index: int, theme: Theme) -> str:
    before, after = (theme.chord(plan.steps[at].voicing.chord) for at in (index - 1, index))
    return f"{index + 1} {before} {theme.signs.to} {after}"


def _voice_moves(moved: Movement) -> str:
    """Signed semitones from the top voice down, with voices that come and go in words."""
    text = " ".join(f"{move:+d}" if move else "0" for move in reversed(moved.voices))
    extra = [
        f"{count} {word}"
        for count, word in (
            (moved.entered, "in"),
            (moved.left, "out"),
            (moved.split, "split"),
            (moved.merged, "merged"),
        )
        if count
    ]
    return ", ".join([text, *extra] if text else extra)


def _totals(plan: Plan) -> list[str]:
    changes = [planned.movement for planned in plan.steps if planned.movement is not None]
    if not changes:
        return [f"{counted(len(plan.steps), 'chord')}."]
    common = sum(moved.common for moved in changes)
    widest = max((planned.fingering.stretch_mm for planned in plan.steps), default=0.0)
    each = plan.total_movement / len(changes)
    return [
        f"{counted(len(plan.steps), 'chord')}, {counted(plan.total_movement, 'semitone')} of movement "
        f"({each:.1f} for each change), {counted(common, 'voice')} held.",
        f"Largest move {max(moved.largest for moved in changes)} semitones; widest stretch {widest:.0f} mm.",
    ]
