"""The dashboard where there is room: letters and a neck for the far end of the room, every note of the coming shapes,
the voices over many chords, the take as a whole. Height goes first to the neck, then to the name, then to the voices.
"""

from __future__ import annotations

from listener.screen.practice.frame import Frame, head_rows, padded
from listener.screen.practice.heading import keys_row, note_rows
from listener.screen.practice.heard import compared_rows, earlier_rows, heard_rows
from listener.screen.practice.target import large_name_rows, summary_rows, target_height, target_rows
from listener.screen.practice.totals import count_parts, movement_parts, route_row, timing_row
from listener.screen.practice.upcoming import below_rows
from listener.screen.practice.voices import blocks_needed, voice_rows
from listener.screen.rows import Canvas, Region, Row, beside, canvas, row, rule

#: From here on the large picture is tried.
WIDE_WIDTH = 118
WIDE_HEIGHT = 36
#: The widest fret of the large neck, and rows of the largest name and of its words.
_WIDEST_FRET = 11
_NAME_ROWS, _WORD_ROWS = 5, 3
#: Rows of the newest verdict: the large bar, the notes, the faults, the movement.
_VERDICT_ROWS = 9


def wide(frame: Frame) -> Canvas | None:
    """Play and heard side by side, the coming shapes with their notes below, then voices and the take as a whole.

    None when there is no room for it.
    """
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    foot = [*note_rows(snapshot, width, theme), keys_row(snapshot, theme)]
    body = frame.height - 10 - len(foot) - frame.strings - frame.voices
    if width < WIDE_WIDTH or frame.height < WIDE_HEIGHT or body < frame.strings + 6:
        return None
    over = snapshot.target is None
    body += frame.strings + 2 if over else 0
    blocks = _voice_blocks(frame, body)
    body -= (blocks - 1) * (frame.voices + 1)
    left = width * 9 // 20
    right = width - left
    rows = head_rows(frame, left, right)
    region = Region(left, len(rows), right, min(_VERDICT_ROWS, max(4, body - frame.voices - 2)))
    rows += beside([(_play(frame, left, body), left), (_heard(frame, region, body), right)], body, theme)
    if not over:
        rows += padded(below_rows(snapshot, width, theme), frame.strings + 2)
    rows += padded(voice_rows(snapshot, width, frame.voices + 1, theme, blocks=blocks), blocks * (frame.voices + 1))
    rows += [rule("this take", width, theme), _take_row(frame), route_row(snapshot, width, theme)]
    rows += [timing_row(snapshot, width, theme)]
    return canvas([*padded(rows, frame.height - len(foot)), *foot], width, frame.height, theme, region)


def _voice_blocks(frame: Frame, body: int) -> int:
    """How many blocks of voices there are steps for, and room besides the neck at its largest."""
    needed = blocks_needed(frame.snapshot, frame.width)
    spare = body - (_NAME_ROWS + _WORD_ROWS + 1 + target_height(frame.strings, roomy=True))
    return max(1, min(needed, 1 + spare // (frame.voices + 1)))


def _play(frame: Frame, width: int, height: int) -> list[Row]:
    """Name, words and neck; the neck stands at the foot, so that it does not move with the length of the words."""
    snapshot, theme = frame.snapshot, frame.theme
    if snapshot.target is None:
        return summary_rows(snapshot, width - 2, height, theme, more=frame.more)
    roomy = height >= target_height(frame.strings, roomy=True) + _NAME_ROWS + 1
    room = height - target_height(frame.strings, roomy=roomy)
    name = large_name_rows(snapshot, width, room - 1, theme)
    return [*padded(name, room), *target_rows(snapshot, width - 2, theme, most=_WIDEST_FRET, roomy=roomy)]


def _heard(frame: Frame, region: Region, height: int) -> list[Row]:
    """The newest verdict, its notes beside the planned ones, and the verdicts before it."""
    snapshot, theme = frame.snapshot, frame.theme
    rows = padded(heard_rows(snapshot, region.width, region.height, theme), region.height + 1)
    rows += compared_rows(snapshot, theme)
    rows = padded(rows, region.height + frame.voices + 3)
    return [*rows, *earlier_rows(snapshot, region.width, height - len(rows), theme)]


def _take_row(frame: Frame) -> Row:
    counts = count_parts(frame.snapshot, frame.theme)
    return row("counts   ", *counts, "   ", *movement_parts(frame.snapshot, 60, frame.theme))
