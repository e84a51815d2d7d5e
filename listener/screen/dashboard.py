"""The whole screen from one snapshot: a pure function, the same picture for the same moment.

Three questions, three places: *play* (top left: the chord and its place on the neck), *heard* (top right: what you
played and what is wrong with it), *next* (right of the neck). Under them the voices as lines, then the take's totals,
one line of talk and the keys. Larger terminals get larger letters, wider frets, note names on the coming shapes, a
table of planned against heard notes, a timing strip and the whole route, and not the same things stretched.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.screen.free_view import free_view
from listener.screen.heading import keys_row, note_row, status_row, title_row
from listener.screen.heard import compared_rows, heard_rows
from listener.screen.rows import Canvas, Region, Row, beside, canvas, row, rule
from listener.screen.target import name_rows, summary_rows, target_rows
from listener.screen.theme import Theme
from listener.screen.totals import count_parts, movement_parts, route_row, short_totals, timing_row, totals_row
from listener.screen.upcoming import upcoming_rows
from listener.screen.voices import most_voices, voice_rows
from listener.session.state import Snapshot

MIN_WIDTH: Final = 80
MIN_HEIGHT: Final = 24
#: From here on there is room for the large picture.
_WIDE_WIDTH: Final = 118
_WIDE_HEIGHT: Final = 36


@dataclass(frozen=True)
class _Frame:
    snapshot: Snapshot
    width: int
    height: int
    theme: Theme
    voices: int

    @property
    def strings(self) -> int:
        return self.snapshot.plan.string_count


def dashboard(snapshot: Snapshot, *, width: int, height: int, theme: Theme) -> Canvas:
    """The picture of a moment, exactly ``width`` x ``height`` cells; made for 80 x 24 and up."""
    if snapshot.chords is not None:
        return free_view(snapshot, width, height, theme)
    frame = _Frame(snapshot, width, height, theme, most_voices(snapshot.plan))
    if width >= _WIDE_WIDTH and height >= _WIDE_HEIGHT:
        return _wide(frame)
    return _compact(frame)


def _head(frame: _Frame) -> list[Row]:
    width, theme = frame.width, frame.theme
    return [title_row(frame.snapshot, width, theme), status_row(frame.snapshot, width, theme)]


def _labels(frame: _Frame, left: int, right: int) -> list[Row]:
    """The rule over the two upper panels."""
    play = "this take" if frame.snapshot.target is None else "play"
    parts = [([rule(play, left - 1, frame.theme)], left), ([rule("heard", right, frame.theme)], right)]
    return beside(parts, 1, frame.theme)


def _padded(rows: list[Row], height: int) -> list[Row]:
    return [*rows, *([[]] * (height - len(rows)))]


def _compact(frame: _Frame) -> Canvas:
    """Two columns over the voices. Height goes first to what is played, then to the voices, then to extras."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    foot = _small_foot(frame)
    room = frame.height - 5 - len(foot) - frame.strings
    top = max(5, min(8, room - frame.voices))
    voices = min(frame.voices, room - top)
    spare = max(0, room - top - voices)
    left, right = width // 2 - 1, width - width // 2 + 1
    rows = [*_head(frame), *_labels(frame, left, right)]
    verdict = Region(left, len(rows), right, top - 1)
    heard = _padded(heard_rows(snapshot, right, top - 1, theme), top - 1)
    heard += [rule("next" if snapshot.target else "", right, theme), *upcoming_rows(snapshot, right, theme)]
    height = top + frame.strings + 1
    play = [*name_rows(snapshot, left, top, theme), *target_rows(snapshot, left, theme)]
    if snapshot.target is None:
        play = summary_rows(snapshot, left - 1, height, theme)
    rows += beside([(play, left), (heard, right)], height, theme)
    extras = [route_row(snapshot, width, theme), timing_row(snapshot, width, theme)][:spare]
    blanks: list[Row] = [[]] * ((spare - len(extras)) // 2)
    rows += [*blanks, *voice_rows(snapshot, width, voices + 1, theme), *blanks, *extras]
    return canvas([*_padded(rows, frame.height - len(foot)), *foot], width, frame.height, theme, verdict)


def _small_foot(frame: _Frame) -> list[Row]:
    """Totals, talk and keys; on a crowded screen totals and talk share a row."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    totals, keys = totals_row(snapshot, width, theme), keys_row(snapshot, theme)
    if frame.height - 8 - frame.strings - frame.voices >= 5:
        return [totals, note_row(snapshot, theme), keys]
    return [[*short_totals(snapshot, theme), *note_row(snapshot, theme)] if snapshot.note else totals, keys]


def _wide(frame: _Frame) -> Canvas:
    """Play and heard side by side, the coming shapes with their notes below, then voices and the take as a whole."""
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    body = frame.height - 12 - frame.strings - frame.voices
    if body < frame.strings + 6:
        return _compact(frame)
    left = width * 9 // 20
    right = width - left
    rows = [*_head(frame), *_labels(frame, left, right)]
    heard_height = min(7, max(4, body - frame.voices - 2))
    verdict = Region(left, len(rows), right, heard_height)
    heard = _padded(heard_rows(snapshot, right, heard_height, theme), heard_height + 1)
    heard += compared_rows(snapshot, right, theme)
    rows += beside([(_large_play(frame, left, body), left), (heard, right)], body, theme)
    next_ = _padded(upcoming_rows(snapshot, width, theme), frame.strings + 1)
    rows += [rule("next" if snapshot.target else "", width, theme), *next_]
    rows += voice_rows(snapshot, width, frame.voices + 1, theme)
    rows += [rule("this take", width, theme), _take_row(frame), route_row(snapshot, width, theme)]
    rows += [timing_row(snapshot, width, theme)]
    foot = [note_row(snapshot, theme), keys_row(snapshot, theme)]
    return canvas([*_padded(rows, frame.height - 2), *foot], width, frame.height, theme, verdict)


def _large_play(frame: _Frame, width: int, height: int) -> list[Row]:
    """Name, words and neck, spread over the height so that neck and name do not touch."""
    snapshot, theme = frame.snapshot, frame.theme
    if snapshot.target is None:
        return summary_rows(snapshot, width - 2, height, theme)
    room = height - frame.strings - 1
    name = name_rows(snapshot, width, min(room, 8), theme)
    return [*_padded(name, room), *target_rows(snapshot, width - 2, theme, most=9)]


def _take_row(frame: _Frame) -> Row:
    counts = count_parts(frame.snapshot, frame.theme)
    return row("counts   ", *counts, "   ", *movement_parts(frame.snapshot, 60, frame.theme))
