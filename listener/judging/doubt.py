"""Errors of the pickup that only the target can tell: a note that was sent an octave (or a twelfth) too high.

Believed only where the player cannot have played it: the strings are told apart, the note came on the string that was
meant, everything else is exactly as planned and at least two tones are, and the fret that would really sound it lies
beyond the hand that holds the others, or beyond the neck.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from listener.hearing.events import NoteOn, Stroke
from listener.planning.drill import EXACT, SAME_FINGERING
from listener.planning.plan import PlannedStep

#: Semitones that a converter is too high when it has locked on to a harmonic.
_HARMONICS: Final = (12, 19)
#: No hand holds frets so far apart (common practice: the widest shapes span five or six).
_TOO_FAR: Final = 8
#: Beyond any usual neck (common practice: 19 to 24 frets).
_LAST_FRET: Final = 24


def as_meant(stroke: Stroke, planned: PlannedStep) -> tuple[Stroke, bool]:
    """The stroke with a note that only the pickup can have raised put back; whether there was one."""
    shape = planned.fingering
    if planned.step.strictness not in (EXACT, SAME_FINGERING) or len(shape.pitches) < 3:
        return stroke, False
    meant = dict(zip(shape.strings, zip(shape.pitches, shape.frets, strict=True), strict=True))
    strange = [note for note in stroke.struck if note.pitch not in shape.pitches]
    if len(strange) != 1 or strange[0].string is None or strange[0].string not in meant:
        return stroke, False
    (raised,) = strange
    pitch, fret = meant[strange[0].string]
    sounding = {note.pitch for note in (*stroke.struck, *stroke.held)}
    if raised.pitch - pitch not in _HARMONICS or not set(shape.pitches) - {pitch} <= sounding:
        return stroke, False
    frets = [other for string, (_, other) in meant.items() if string != raised.string and other]
    if not _out_of_reach(fret + raised.pitch - pitch, frets):
        return stroke, False
    return replace(stroke, struck=tuple(_lowered(note, raised, pitch) for note in stroke.struck)), True


def _out_of_reach(fret: int, others: list[int]) -> bool:
    return fret > _LAST_FRET or any(fret - other >= _TOO_FAR for other in others)


def _lowered(note: NoteOn, raised: NoteOn, pitch: int) -> NoteOn:
    return replace(note, pitch=pitch) if note is raised else note
