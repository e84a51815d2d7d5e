"""What was played, as a small neck beside the planned shape: right notes, notes that nobody asked for, missing ones.

A verdict knows notes, not strings. A note that the plan has lies where the plan has it; any other lies on a string that
is free, as near to the hand as can be: that is where a finger slips to.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import permutations
from typing import Final

from listener.guitar.fingering import Fingering, fret_window
from listener.judging.verdict import HIT
from listener.screen.neck import Mark, marked_rows
from listener.screen.rows import Row, cut, row
from listener.screen.theme import BOLD, NOW, QUIET, Theme
from listener.screen.words import step_of
from listener.session.take.state import COUNT_IN, Snapshot

#: How unlikely a wrong note is (our choice, beside 2 for each fret away from the hand): an open string beside the
#: shape, an open one whose finger was lifted, and a finger on a string beside the shape.
_STRAY, _LIFTED, _REACHED = 1, 3, 4
#: The neck has so many frets at least, wherever it is not known.
_FRETS: Final = 22

#: For each string that sounds its fret.
Places = Mapping[int, int]


def is_shown(snapshot: Snapshot) -> bool:
    """Whether the newest verdict is on notes that were not right."""
    verdict = snapshot.verdict
    return (
        verdict is not None
        and snapshot.target is not None
        and snapshot.phase != COUNT_IN
        and verdict.grade != HIT
        and bool(verdict.heard)
    )


def played_rows(snapshot: Snapshot, width: int, cell: int, theme: Theme) -> list[Row]:
    """Name of the chord, then a row for each string: fingers where the notes are right, a sign where one is wrong and
    another where one is missing. Empty where there is nothing to show."""
    verdict = snapshot.verdict
    planned = step_of(snapshot.plan, verdict) if verdict is not None else None
    if verdict is None or planned is None or not is_shown(snapshot):
        return []
    wanted = planned.fingering
    lies = where(verdict.heard, wanted, snapshot.plan.open_midi)
    marks = _marks(wanted, verdict.heard, lies, theme)
    first, last = fret_window(fret for places in marks.values() for fret in places)
    name = theme.chord(planned.voicing.chord)
    name = f"{name} {first}fr" if first > 1 else name
    return [
        row((cut(name, width - 1, theme), BOLD)),
        *marked_rows(marks, snapshot.plan.string_count, range(first, last + 1), cell, theme),
    ]


def _marks(wanted: Fingering, heard: tuple[int, ...], lies: Places, theme: Theme) -> dict[int, dict[int, Mark]]:
    """For each string that has a mark: what stands at which fret."""
    signs = theme.signs
    marks: dict[int, dict[int, Mark]] = {}
    for pitch, string, fret, finger in zip(wanted.pitches, wanted.strings, wanted.frets, wanted.fingers, strict=True):
        right = pitch in heard
        sign = (str(finger) if finger else signs.pressed if fret else "o") if right else signs.missing
        marks.setdefault(string, {})[fret] = (sign, BOLD if right else QUIET)
    for string, fret in lies.items():
        if fret not in marks.get(string, {}):
            marks.setdefault(string, {})[fret] = (signs.differs, NOW)
    return marks


@lru_cache(maxsize=256)
def where(heard: tuple[int, ...], wanted: Fingering, opens: tuple[int, ...]) -> Places:
    """A string and fret for each note that has room on the neck."""
    places = {
        string: fret
        for pitch, string, fret in zip(wanted.pitches, wanted.strings, wanted.frets, strict=True)
        if pitch in heard
    }
    others = [pitch for pitch in heard if pitch not in wanted.pitches]
    free = [string for string in range(1, len(opens) + 1) if string not in places]
    low, high = wanted.lowest_fret or 1, wanted.highest_fret or 1

    def cost(pitch: int, string: int) -> int:
        fret = pitch - opens[string - 1]
        if not 0 <= fret <= _FRETS:
            return 1000
        used = string in wanted.strings
        if fret == 0:  # a string that nobody meant is most often an open one
            return _LIFTED if used else _STRAY
        return 2 * max(low - fret, fret - high, 0) + (1 if used else _REACHED)

    chosen = min(
        permutations(free, min(len(others), len(free))),
        key=lambda strings: sum(cost(pitch, string) for pitch, string in zip(others, strings, strict=False)),
        default=(),
    )
    for pitch, string in zip(others, chosen, strict=False):
        if cost(pitch, string) < 1000:
            places[string] = pitch - opens[string - 1]
    return places
