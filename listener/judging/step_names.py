"""What the chords that were played are called, one after the other."""

from __future__ import annotations

from collections.abc import Sequence

from listener.music.naming import best_name
from listener.planning.played import PlayedChord


def symbols_of(steps: Sequence[PlayedChord]) -> tuple[str | None, ...]:
    """A chord symbol for each step, in order; None where its notes have no name.

    Each is named for itself, by what sounds.
    """
    names = (best_name(step.pitches) for step in steps)
    return tuple(None if name is None else name.chord.symbol for name in names)
