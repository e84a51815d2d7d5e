"""The way of one voice from chord to chord: level for a hold, slanting with its semitones for a move."""

from __future__ import annotations

from collections.abc import Sequence

from listener.music.movement import step_word
from listener.screen.rows import Row, row
from listener.screen.theme import BOLD, PLAIN, QUIET, Theme


def way_row(here: Sequence[int], there: Sequence[int], rank: int, room: int, theme: Theme) -> Row:
    """The line of the voice ``rank`` (0 = on top) between two chords (MIDI, low to high) on ``room`` cells.

    With unequal numbers of voices only the top line is certain; for the others dots say that nobody knows.
    """
    if rank and len(here) != len(there):
        return row((theme.signs.dot * room, QUIET))
    move = there[-1 - rank] - here[-1 - rank]
    line = theme.signs.line
    if move == 0:
        return row((line * room, QUIET))
    sign = f"{theme.signs.up if move > 0 else theme.signs.down}{abs(move)}"
    left = max(0, room - len(sign)) // 2
    loud = BOLD if step_word(move) == "leap" else PLAIN
    return row((line * left, QUIET), (sign[:room], loud), (line * (room - len(sign) - left), QUIET))


def rank_on(voices: int, line: int, lines: int) -> int:
    """Which voice of a chord stands on a line, counted from the top: where there are more voices than lines, inner ones
    give way and the lowest is kept."""
    return voices - 1 if voices > lines and 0 < line == lines - 1 else line
