"""The plan of a take as others wrote it: every field of the type and within the bounds that readers count on.

``Fields`` says what happens when one is not (:class:`listener.errors.SourceError`). Fields that this program does not
know are let through; docs/bundle.md promises that.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from listener.errors import SourceError
from listener.history.exchange.bundle import LONGEST_NAME, MOST_STEPS
from listener.history.exchange.strict import Fields, texts
from listener.music.movement import Movement
from listener.records import Kind, listed, number, or_null, whole

STRINGS: Final = 16
#: Notes of one stroke.
NOTES: Final = 64
SEMITONES: Final = 10_000
#: Beats in a minute.
SLOWEST, FASTEST = 1, 1000.0
_BEATS: Final = 1e6
_COUNTS: Final = ("semitones", "common", "largest", "cost", "entered", "left", "split", "merged")
#: A step by its number.
STEP: Final = whole(0, MOST_STEPS)
#: A MIDI note.
PITCH: Final = whole(0, 127)
_MOVED: Final = whole(-SEMITONES, SEMITONES)
_VOICES: Final = listed(whole(-128, 128), NOTES)
#: Notes, degrees or strings by name.
NAMES: Final = texts(12, STRINGS)
INVERSION: Final = or_null(whole(0, STRINGS))
#: Fields that may be left out, though null is no value for them.
_PLAN: Final[Mapping[str, Kind[Any]]] = {
    "tempo": number(SLOWEST, FASTEST),
    "meter": listed(whole(1, 64), 2),
    "tuning": NAMES,
    "capo": whole(0, 36),
    "total_movement": whole(0, SEMITONES * MOST_STEPS),
}
_STEP: Final[Mapping[str, Kind[Any]]] = {
    "bar": whole(0, 1_000_000),
    **dict.fromkeys(("beat", "beats"), number(0, _BEATS)),
    **dict.fromkeys(("names", "degrees"), NAMES),
}
_FINGERING: Final = {
    "pitches": listed(PITCH, STRINGS),
    "strings": listed(whole(1, STRINGS), STRINGS),
    "frets": listed(whole(0, 40), STRINGS),
    "fingers": listed(whole(0, 4), STRINGS),
}
_HARD: Final = number(0, 1e6)


def check_plan(row: Fields, *, complete: bool = True) -> None:
    """Refuse a plan with a field that is not what it must be. ``complete``: everything must be there that a bundle
    needs; programs of older versions kept less in their histories."""
    row.text("drill", LONGEST_NAME)
    for name in ("title", "key", "hand"):
        row.text(name)
    _check_those_there(row, _PLAN)
    row.part("way_back", movement_from)
    for place, step in enumerate(row.rows("steps", MOST_STEPS)):
        if step.need("index", STEP) != place:
            step.misfit("index", f"{place}, the place in the list")
        _check_step(step, complete=complete)


def _check_step(step: Fields, *, complete: bool) -> None:
    step.text("chord", 60, needed=True)
    step.text("kind", 60, needed=True)
    step.need("inversion", INVERSION)
    step.text("passage")
    _check_those_there(step, _STEP)
    sizes = {len(step.read(name, kind, ())) for name, kind in _FINGERING.items()}
    if complete and len(sizes) != 1:
        step.misfit("pitches", "as many as strings, frets and fingers")
    for name in ("stretch_mm", "strain"):
        if complete or step.has(name):
            step.need(name, _HARD)
    step.part("barre", _barre)
    step.part("movement", movement_from)
    step.part("pattern", _pattern)


def movement_from(row: Fields) -> Movement:
    """How the voices move from one chord to the next."""
    numbers = {name: row.need(name, _MOVED) for name in _COUNTS}
    return Movement(voices=row.read("voices", _VOICES, ()), **numbers)


def _barre(row: Fields) -> None:
    for name in ("finger", "fret", "from_string", "to_string"):
        row.need(name, whole(0, 64))
    if len(row.values) != 4:
        raise SourceError(f"{row.where} has fields that no barre has; is the file damaged?")


def _pattern(row: Fields) -> None:
    for name in ("strum", "pick", "place", "over"):
        row.text(name)
    row.read("swing", number(0, _BEATS), None)


def _check_those_there(row: Fields, kinds: Mapping[str, Kind[Any]]) -> None:
    for name, kind in kinds.items():
        row.read(name, kind, None)
