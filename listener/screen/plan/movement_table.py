"""Every change of a plan as a row: what moved, what held, and the largest move in a word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len

from listener.music.movement import Movement, step_word
from listener.planning.plan import Plan, PlannedStep
from listener.screen.plan.folding import Stretch, stretches
from listener.screen.rows import Row, cut, filled, row
from listener.screen.theme import BOLD, QUIET, Theme

_WIDEST_NAME: Final = 30

#: What a change is called, and its movement; without one a line that stands for many.
_Entry = tuple[str, Movement | None]


def movement_rows(plan: Plan, theme: Theme) -> list[Row]:
    """The table with its heading; nothing for a plan without changes."""
    entries = _entries(plan, theme)
    changes = [(name, moved) for name, moved in entries if moved is not None]
    if not changes:
        return []
    wide_name = min(_WIDEST_NAME, max(cell_len(name) for name, _ in changes))
    wide_voices = max([len("voices"), *(len(voice_moves(moved)) for _, moved in changes)])
    rows = [row((f"{'change':<{wide_name}}  {'sum':>3}  {'voices':<{wide_voices}}  held  largest", QUIET))]
    for name, moved in entries:
        rows.append(row((name, QUIET)) if moved is None else _change_row(name, moved, wide_name, wide_voices, theme))
    return rows


def _entries(plan: Plan, theme: Theme) -> list[_Entry]:
    before = {other.step.index: one for one, other in zip(plan.steps, plan.steps[1:], strict=False)}
    found: list[_Entry] = []
    for stretch in stretches(plan):
        if stretch.like:
            found += _entry_into(stretch, before, theme)
            found.append((stretch.words(theme), None))
        else:
            found += _named(stretch.steps, before, theme)
    if plan.way_back is not None and plan.steps:
        found.append((_change(plan.steps[-1], plan.steps[0], theme), plan.way_back))
    return found


def _entry_into(stretch: Stretch, before: dict[int, PlannedStep], theme: Theme) -> list[_Entry]:
    """The change into repeated bars, where it is not the one that led into them the first time."""
    first, like = stretch.bars[0][0], stretch.like[0][0]
    return _named([first], before, theme) if first.movement != like.movement else []


def _named(steps: Sequence[PlannedStep], before: dict[int, PlannedStep], theme: Theme) -> list[_Entry]:
    return [
        (_change(before[planned.step.index], planned, theme), planned.movement)
        for planned in steps
        if planned.movement is not None and planned.step.index in before
    ]


def _change(before: PlannedStep, after: PlannedStep, theme: Theme) -> str:
    one, other = (theme.chord(planned.voicing.chord) for planned in (before, after))
    return f"{after.step.index + 1} {one} {theme.signs.to} {other}"


def _change_row(name: str, moved: Movement, wide_name: int, wide_voices: int, theme: Theme) -> Row:
    cells = filled(cut(name, wide_name, theme), wide_name)
    words = f"{moved.largest:>2} {step_word(moved.largest)}"
    tail = row((words, BOLD)) if step_word(moved.largest) == "leap" else row(words)
    return [*row(f"{cells}  {moved.semitones:>3}  {voice_moves(moved):<{wide_voices}}  {moved.common:>4}  "), *tail]


def voice_moves(moved: Movement) -> str:
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
