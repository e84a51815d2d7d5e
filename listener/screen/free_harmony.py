"""The harmony of free listening on the screen: the chord that governs, and the chords before it in a line."""

from __future__ import annotations

from rich.cells import cell_len

from listener.judging.harmony import HarmonyChord
from listener.screen.free_voices import shown_name
from listener.screen.rows import Row, row, row_width
from listener.screen.theme import NOW, QUIET, Theme
from listener.session.state import Snapshot


def governing_name(snapshot: Snapshot, theme: Theme) -> str:
    """The chord that governs now; where none does, what the newest stroke is called."""
    chord = snapshot.harmony[-1].chord if snapshot.harmony else None
    return theme.chord(chord) if chord is not None else shown_name((snapshot.chords or ())[-1], theme)


def harmony_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The last chords that governed, as many as there is room for, the one that does now at the right."""
    shown = row((_name(snapshot.harmony[-1], theme), NOW)) if snapshot.harmony else []
    label = row(("harmony  ", QUIET))
    for number in range(2, min(width, len(snapshot.harmony)) + 1):
        name = f"{_name(snapshot.harmony[-number], theme)}  "
        if row_width(label) + cell_len(name) + row_width(shown) > width:
            break
        shown = [*row(name), *shown]
    return [*label, *shown] if shown else []


def _name(chord: HarmonyChord, theme: Theme) -> str:
    return theme.chord(chord.chord) if chord.chord is not None else "-"
