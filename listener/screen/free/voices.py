"""The voices of what was heard in free listening, as lines: from the oldest chord that has room to the newest."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from rich.cells import cell_len

from listener.judging.free.free import HeardChord
from listener.music.chord import parse_chord
from listener.plain_words import counted
from listener.screen.free.words import name_of
from listener.screen.practice.frame import padded
from listener.screen.practice.voices import COLUMN, columns_in
from listener.screen.rows import Row, cut, fit, row
from listener.screen.sparkline import sparkline
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, TOP_NOTE, Theme
from listener.screen.way import rank_on, way_row

_LABEL: Final = 5
#: Chords that the row about movement looks back on: a frame costs the same after an hour as after a minute.
_LOOKS_BACK: Final = 61


def shown_name(chord: HeardChord, theme: Theme) -> str:
    """The chord's name in the theme's spelling."""
    return theme.words(name_of(chord)) if chord.chord is None else theme.chord(parse_chord(chord.chord))


def heard_voice_rows(chords: Sequence[HeardChord], width: int, height: int, theme: Theme) -> list[Row]:
    """A heading with the names, then the voices from the top, exactly ``height`` rows; the newest chord stands out."""
    shown = chords[-columns_in(width) :]
    lines = min(height - 1, max(len(chord.pitches) for chord in shown))
    rows = [_heading(shown, width, theme), *(_line(shown, line, lines, theme) for line in range(lines))]
    return padded(rows, height)


def _heading(shown: Sequence[HeardChord], width: int, theme: Theme) -> Row:
    line = theme.signs.line
    cells = row((line * (_LABEL - 1), QUIET))
    for chord in shown:
        newest = chord is shown[-1]
        name = shown_name(chord, theme) if chord.chord is not None else "-"
        words = cut(f" {name} ", COLUMN - 1, theme)
        cells += row((words, NOW if newest else BOLD), (line * (COLUMN - cell_len(words)), QUIET))
    return fit([*cells, *row((line * max(0, width - _LABEL + 1 - COLUMN * len(shown)), QUIET))], width, theme)


def _line(shown: Sequence[HeardChord], line: int, lines: int, theme: Theme) -> Row:
    """One voice through all chords; after a pause nothing leads on."""
    cells = row((f"{'top' if line == 0 else line + 1:<{_LABEL}}", QUIET))
    for chord, after in pairwise((*shown, None)):
        if chord is None:
            continue
        rank = rank_on(len(chord.pitches), line, lines)
        if rank >= len(chord.pitches):
            cells += row(" " * COLUMN)
            continue
        name = theme.words(chord.names[-1 - rank])
        style = TOP_NOTE if rank == 0 else BOLD if after is None else PLAIN
        room = COLUMN - cell_len(name) - 2
        leads = after is not None and after.movement is not None and room > 0
        way = way_row(chord.pitches, after.pitches, rank, room, theme) if leads and after is not None else []
        cells += fit([*row((name, style), " "), *way], COLUMN, theme)
    return cells


def movement_row(chords: Sequence[HeardChord], width: int, theme: Theme) -> Row:
    """How far the voices went with each change, as small bars, the mean and what was held; empty before a change."""
    moved = [chord.movement for chord in chords[-_LOOKS_BACK:] if chord.movement is not None]
    if not moved:
        return []
    semitones = [change.semitones for change in moved]
    held, voices = sum(change.common for change in moved), sum(len(change.voices) for change in moved)
    said = [f" mean {sum(semitones) / len(moved):.1f} semitones", f"{held} of {counted(voices, 'voice')} held"]
    said.append(f"last {counted(len(moved), 'change')}")
    words = ", ".join(said)
    bars = max(1, min(30, width - len(words) - len("movement ")))
    return row("movement ", sparkline(semitones[-bars:], bars, theme.ascii_only, low=0), (words, QUIET))
