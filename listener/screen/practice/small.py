"""The dashboard on a terminal with little room: less of it, and the same questions answered in the same order.

What is due and how it went come first, then the neck, what comes next, and the counts; what has no room is left out.
"""

from __future__ import annotations

from typing import Final

from listener.screen.practice.frame import Frame, padded
from listener.screen.practice.heading import keys_row, note_rows, status_row, title_row
from listener.screen.practice.heard import heard_rows
from listener.screen.practice.target import summary_rows, target_height, target_rows, word_rows
from listener.screen.practice.totals import short_totals
from listener.screen.practice.upcoming import next_words
from listener.screen.practice.voices import voice_rows
from listener.screen.rows import Canvas, Region, Row, canvas, row
from listener.screen.theme import BOLD, QUIET, Theme
from listener.session.take.state import PAUSED, Snapshot

#: Cells below which nothing of a take can be shown, and below which a neck has no room for its labels.
LEAST_WIDTH: Final = 24
LEAST_HEIGHT: Final = 6
_NECK_WIDTH: Final = 36
#: Rows of the newest verdict: a sentence on two, its bar and the notes; fewer where there is less room.
_VERDICT, _LEAST_VERDICT = 4, 3


def small(frame: Frame) -> Canvas:
    """One column, the newest verdict under what is due."""
    snapshot, theme, width, height = frame.snapshot, frame.theme, frame.width, frame.height
    foot = [*note_rows(snapshot, width, theme)[: max(1, height // 6)], keys_row(snapshot, theme)]
    room = height - len(foot)
    rows = [title_row(snapshot, width, theme)] if room > 9 else []
    rows.append(status_row(snapshot, width, theme) if width >= _NECK_WIDTH else _step_row(snapshot))
    if snapshot.target is None:
        rows += summary_rows(snapshot, width, room - len(rows), theme, more=frame.more)
        return canvas([*padded(rows[:room], room), *foot], width, height, theme)
    neck = target_height(frame.strings, roomy=False)
    spare = room - len(rows) - 1 - _LEAST_VERDICT
    drawn = width >= _NECK_WIDTH and spare >= neck
    spare -= neck if drawn else 0
    words = min(3, 1 + max(0, spare - 1))
    rows += _due_rows(snapshot, theme)[:words]
    if drawn:
        rows += target_rows(snapshot, width - 1, theme)
    region = Region(0, len(rows), width, min(_VERDICT, room - len(rows)))
    rows += padded(heard_rows(snapshot, width, region.height, theme), region.height)
    rows += _more_rows(snapshot, theme)[: room - len(rows)]
    if width >= _NECK_WIDTH and room - len(rows) > frame.voices:
        rows += voice_rows(snapshot, width, frame.voices + 1, theme)
    return canvas([*padded(rows[:room], room), *foot], width, height, theme, region)


def _step_row(snapshot: Snapshot) -> Row:
    """The place in the drill alone; a pause is said."""
    total = len(snapshot.plan.steps)
    return row(
        (f"step {min(snapshot.step + 1, total)} of {total}", BOLD), "  PAUSED" if snapshot.phase == PAUSED else ""
    )


def _due_rows(snapshot: Snapshot, theme: Theme) -> list[Row]:
    """The chord's name with its spacing, then the top note and how the hand lies."""
    planned = snapshot.target
    if planned is None:
        return []
    kind, *rest = word_rows(planned, snapshot.plan, theme)
    return [[*row((f"{theme.chord(planned.voicing.chord)}  ", BOLD)), *kind], *rest]


def _more_rows(snapshot: Snapshot, theme: Theme) -> list[Row]:
    coming = next_words(snapshot, theme)
    following = [row(("next ", QUIET), theme.words(coming))] if coming else []
    return [*following, short_totals(snapshot, theme)]
