"""The whole screen from one snapshot: a pure function, the same picture for the same moment.

Three questions, three places: *play* (top left: the chord and its place on the neck), *heard* (top right: what you
played and what is wrong with it), *next* (right of the neck). Under them the voices as lines, then the take's totals,
one line of talk and the keys. Larger terminals get larger letters, a larger neck, note names on more of the coming
shapes, a table of planned against heard notes, the verdicts before, a timing strip and the whole route
(:mod:`listener.screen.practice.wide`), and not the same things stretched.
"""

from __future__ import annotations

from typing import Final

from listener.screen.free.view import free_view
from listener.screen.practice.frame import Frame, head_rows, padded
from listener.screen.practice.heading import keys_row, note_rows
from listener.screen.practice.heard import aside_rows, fault_rows, heard_rows, verdict_row
from listener.screen.practice.legend import legend_view
from listener.screen.practice.small import small
from listener.screen.practice.target import name_rows, summary_rows, target_height, target_rows
from listener.screen.practice.totals import route_signs, short_totals, timing_row, totals_row
from listener.screen.practice.upcoming import below_rows
from listener.screen.practice.voices import blocks_needed, most_voices, voice_rows
from listener.screen.practice.wide import wide
from listener.screen.rows import Canvas, Region, Row, beside, canvas, row_width
from listener.screen.theme import Theme
from listener.session.take.state import Snapshot

MIN_WIDTH: Final = 80
MIN_HEIGHT: Final = 24
#: Pages that a key turns to.
SIGNS: Final = "signs"
MORE: Final = "more"
#: Rows at the end of a take for its last verdict: bar and fault.
_LAST: Final = 2


def dashboard(snapshot: Snapshot, *, width: int, height: int, theme: Theme, page: str = "") -> Canvas:
    """The picture of a moment, exactly ``width`` x ``height`` cells; made for 80 x 24 and up, with less on it below.

    ``page`` is "signs" for what signs and keys mean, and "more" for all that there is to say after a take.
    """
    if page == SIGNS:
        return legend_view(width, height, theme)
    if snapshot.chords is not None:
        return free_view(snapshot, width, height, theme)
    frame = Frame(snapshot, width, height, theme, most_voices(snapshot), page == MORE)
    if width < MIN_WIDTH or height < MIN_HEIGHT:
        return small(frame)
    return wide(frame) or _compact(frame)


def _compact(frame: Frame) -> Canvas:
    """Two columns over the voices. Height goes first to what is played, then to the voices, then to a larger neck and
    more of the voices."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    foot = _foot(frame)
    room = frame.height - 5 - len(foot) - frame.strings
    top = max(5, min(8, room - frame.voices))
    voices = min(frame.voices, room - top)
    spare = max(0, room - top - voices)
    roomy = spare >= frame.strings + 2
    panel = top + target_height(frame.strings, roomy=roomy)
    spare = max(0, frame.height - 4 - len(foot) - panel - voices)
    blocks = min(1 + (spare - 1) // (voices + 1), blocks_needed(snapshot, width)) if spare else 1
    spare -= (blocks - 1) * (voices + 1)
    left, right = width // 2 - 1, width - width // 2 + 1
    route = route_signs(snapshot, right - 12, theme)
    if snapshot.target is None:
        region = None
        rows = [*head_rows(frame, width, 0, route), *_ended(frame, panel)]
    else:
        rows = head_rows(frame, left, right, route)
        region = Region(left, len(rows), right, panel - frame.strings - 2)
        rows += _upper(frame, region, top, roomy)
    extras = [timing_row(snapshot, width, theme)][:spare]
    blanks: list[Row] = [[]] * ((spare - len(extras)) // 2)
    rows += [*blanks, *voice_rows(snapshot, width, voices + 1, theme, blocks=blocks), *blanks, *extras]
    return canvas([*padded(rows, frame.height - len(foot)), *foot], width, frame.height, theme, region)


def _upper(frame: Frame, region: Region, top: int, roomy: bool) -> list[Row]:
    """Name and neck on the left, what was heard and what comes next on the right."""
    snapshot, theme, left, right = frame.snapshot, frame.theme, region.left, region.width
    heard = padded(heard_rows(snapshot, right, region.height, theme), region.height)
    heard += below_rows(snapshot, right, theme)
    play = [*name_rows(snapshot, left, top, theme), *target_rows(snapshot, left, theme, roomy=roomy)]
    return beside([(play, left), (heard, right)], region.height + frame.strings + 2, theme)


def _ended(frame: Frame, height: int) -> list[Row]:
    """The summary over the whole width, and the last verdict under it."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    verdict = snapshot.verdict
    if verdict is None:
        return padded(summary_rows(snapshot, width - 1, height, theme, more=frame.more), height)
    said = fault_rows(verdict, width, _LAST - 1, theme) or aside_rows(snapshot, width, _LAST - 1, theme)
    last = [verdict_row(snapshot, verdict, width, theme), *said]
    summary = summary_rows(snapshot, width - 1, height - len(last) - 1, theme, more=frame.more)
    return [*padded(summary, height - len(last)), *last]


def _foot(frame: Frame) -> list[Row]:
    """Totals, talk and keys. On a crowded screen totals and talk share a row; long talk has the totals' place."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    totals, keys = totals_row(snapshot, width, theme), keys_row(snapshot, theme)
    notes = note_rows(snapshot, width, theme)
    if len(notes) > 1:
        return [*notes, keys]
    if frame.height - 8 - frame.strings - frame.voices >= 5:
        return [totals, *notes, keys]
    short = short_totals(snapshot, theme)
    if row_width(short) + row_width(notes[0]) > width:
        return [*notes, keys]
    return [[*short, *notes[0]] if snapshot.note else totals, keys]
