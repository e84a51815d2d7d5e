"""The harmony of free listening on the screen: the chord that governs, and the chords before it in a line."""

from __future__ import annotations

from typing import Final

from listener.judging.free.harmony import HarmonyChord
from listener.screen.free.voices import shown_name
from listener.screen.rows import Row, row, row_width
from listener.screen.theme import NOW, QUIET, Theme
from listener.session.take.state import Snapshot

#: A chord that stays for longer fills no more of the row.
_MOST_BARS: Final = 3


def governing_name(snapshot: Snapshot, theme: Theme) -> str:
    """The chord that governs now; where none does, what the newest stroke is called."""
    chord = snapshot.harmony[-1].chord if snapshot.harmony else None
    return theme.chord(chord) if chord is not None else shown_name((snapshot.chords or ())[-1], theme)


def harmony_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The last chords that governed, as many as there is room for, the one that does now at the right. Where a click
    runs they stand in their bars; a bar in which nothing changes is empty."""
    shown = row((_name(snapshot.harmony[-1], theme), NOW)) if snapshot.harmony else []
    label = row(("harmony  ", QUIET))
    for number in range(2, min(width, len(snapshot.harmony)) + 1):
        before, after = snapshot.harmony[-number], snapshot.harmony[1 - number]
        cells = row(_name(before, theme), (_between(before, after, theme), QUIET))
        if row_width(label) + row_width(cells) + row_width(shown) > width:
            break
        shown = [*cells, *shown]
    return [*label, *shown] if shown else []


def _between(before: HarmonyChord, after: HarmonyChord, theme: Theme) -> str:
    """What stands between two chords."""
    if before.bar is None or after.bar is None or before.bar == after.bar:
        return "  "
    bar = theme.signs.bar
    return f" {bar} " + f"  {bar} " * min(after.bar - before.bar - 1, _MOST_BARS)


def _name(chord: HarmonyChord, theme: Theme) -> str:
    return theme.chord(chord.chord) if chord.chord is not None else "-"
