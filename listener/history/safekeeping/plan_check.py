"""The plan of a take as others wrote it: every field of the type and within the bounds that readers count on.

``Fields`` says what happens when one is not (:class:`listener.errors.SourceError`). Fields that this program does not
know are let through; docs/bundle.md promises that.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from listener.errors import SourceError
from listener.history.exchange.bundle import LONGEST_NAME, MOST_STEPS
from listener.history.exchange.strict import Fields
from listener.music.movement import Movement

STRINGS: Final = 16
#: Notes of one stroke.
NOTES: Final = 64
SEMITONES: Final = 10_000
#: Beats in a minute.
SLOWEST, FASTEST = 1, 1000.0
_BEATS: Final = 1e6
_COUNTS: Final = ("semitones", "common", "largest", "cost", "entered", "left", "split", "merged")
_BOUNDS: Final = {"pitches": (0, 127), "strings": (1, STRINGS), "frets": (0, 40), "fingers": (0, 4)}


def check_plan(row: Fields, *, whole: bool = True) -> None:
    """Refuse a plan with a field that is not what it must be. ``whole``: everything must be there that a bundle needs;
    programs of older versions kept less in their histories."""
    row.text("drill", LONGEST_NAME)
    for name in ("title", "key", "hand"):
        row.text(name)
    _if_there(row, "tempo", lambda name: row.real(name, SLOWEST, FASTEST))
    _if_there(row, "meter", lambda name: row.wholes(name, 1, 64, 2))
    _if_there(row, "tuning", lambda name: row.texts(name, 12, STRINGS))
    _if_there(row, "capo", lambda name: row.whole(name, 0, 36))
    _if_there(row, "total_movement", lambda name: row.whole(name, 0, SEMITONES * MOST_STEPS))
    row.part("way_back", movement_from)
    for number, step in enumerate(row.rows("steps", MOST_STEPS)):
        if step.whole("index", 0, MOST_STEPS) != number:
            step.wrong("index", f"{number}, the place in the list")
        _check_step(step, whole=whole)


def _check_step(step: Fields, *, whole: bool) -> None:
    step.text("chord", 60, needed=True)
    step.text("kind", 60, needed=True)
    step.whole_or_none("inversion", 0, STRINGS)
    step.text("passage")
    _if_there(step, "bar", lambda name: step.whole(name, 0, 1_000_000))
    for name in ("beat", "beats"):
        _if_there(step, name, lambda name: step.real(name, 0, _BEATS))
    for name in ("names", "degrees"):
        _if_there(step, name, lambda name: step.texts(name, 12, STRINGS))
    asked = [name for name in _BOUNDS if whole or name in ("pitches", "strings") or name in step.row]
    sizes = {len(step.wholes(name, *_BOUNDS[name], STRINGS)) for name in asked}
    if whole and len(sizes) != 1:
        step.wrong("pitches", "as many as strings, frets and fingers")
    for name in ("stretch_mm", "strain"):
        if whole or name in step.row:
            step.real(name, 0, 1e6)
    step.part("barre", _barre)
    step.part("movement", movement_from)
    step.part("pattern", _pattern)


def movement_from(row: Fields) -> Movement:
    """How the voices move from one chord to the next."""
    numbers = {name: row.whole(name, -SEMITONES, SEMITONES) for name in _COUNTS}
    return Movement(voices=row.wholes("voices", -128, 128, NOTES), **numbers)


def _barre(row: Fields) -> None:
    for name in ("finger", "fret", "from_string", "to_string"):
        row.whole(name, 0, 64)
    if len(row.row) != 4:
        raise SourceError(f"{row.where} has fields that no barre has; is the file damaged?")


def _pattern(row: Fields) -> None:
    for name in ("strum", "pick", "place", "over"):
        row.text(name)
    _if_there(row, "swing", lambda name: row.real(name, 0, _BEATS))


def _if_there(row: Fields, name: str, check: Callable[[str], Any]) -> None:
    """A field may be left out, but null is no value for it."""
    if name in row.row:
        check(name)
