"""Errors of the pickup that only the target can tell: a note that was sent an octave (or a twelfth) too high.

Believed only where nobody can have played what was sent: the notes lie farther apart on the neck than fingers reach,
and with one note put down to the planned one they do not.

- Where strings are told apart, that note came on its own string. Or all pitches are right, but on strings on which no
  hand could hold them: then another note was played, and sent as if it were the planned one.
- Where they are not, all ways to lay the heard pitches on the neck are tried (they are remembered for each set). That
  note must be the only strange one then, and an octave high: a wrong tone never makes a chord right.
- A note that was put down and rings on into the next chord is the same note there.

Open strings ask for no finger, so an octave that an open string or another place on the neck could have sounded is
believed. An arpeggio is judged like a chord: its shape is held.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import placements
from listener.hearing.events import NoteOn, Stroke
from listener.music.pitch import parse_pitch
from listener.planning.plan import Plan, PlannedStep

#: Semitones that a converter is too high when it has locked on to a harmonic.
_OCTAVE: Final = 12
_HARMONICS: Final = (_OCTAVE, 19)
#: No fingers press so much farther apart than the large hand's, which is itself the edge (our choice: a quarter).
_BEYOND: Final = 1.25
#: Beyond any usual neck (common practice: 19 to 24 frets).
_LAST_FRET: Final = 24


@dataclass(frozen=True, slots=True)
class Raised:
    """A note sent too high: its string (None where not told apart), the pitch that came and the one that was meant."""

    string: int | None
    sent: int
    meant: int


def neck(plan: Plan) -> Instrument:
    """The plan's instrument, with all the frets that it might have."""
    made = plan.instrument
    if made is None:
        made = Instrument("guitar", tuple(map(parse_pitch, plan.tuning)), capo=plan.capo)
    return made if made.fret_count >= _LAST_FRET else replace(made, fret_count=_LAST_FRET)


def as_meant(
    stroke: Stroke, planned: PlannedStep, instrument: Instrument, before: Iterable[Raised] = ()
) -> tuple[Stroke, Raised | None]:
    """The stroke with what only the pickup can have raised put back, and the struck note that was, if one was.

    ``before`` are notes of earlier strokes that were put back and may still ring.
    """
    for raised in before:
        stroke = replace(stroke, held=tuple(_lowered(note, raised) for note in stroke.held))
    if planned.step.free_voicing:
        return stroke, None
    told_apart = all(note.string is not None for note in stroke.struck)
    found = _on_strings(stroke, planned, instrument) if told_apart else _by_pitch(stroke, planned, instrument)
    if found is None:
        return stroke, None
    return replace(stroke, struck=tuple(_lowered(note, found) for note in stroke.struck)), found


def still_ringing(before: Iterable[Raised], stroke: Stroke) -> tuple[Raised, ...]:
    """Those that were held into this stroke."""
    held = {(note.string, note.pitch) for note in stroke.held}
    return tuple(raised for raised in before if (raised.string, raised.sent) in held)


def can_be_held(instrument: Instrument, places: Mapping[int, int]) -> bool:
    """Whether fingers reach these MIDI notes on these strings at once; notes that are not on the neck at all are."""
    frets = [pitch - instrument.open_midi[string - 1] for string, pitch in places.items()]
    if not frets or min(frets) < 0:
        return True
    pressed = [fret for fret in frets if fret]
    if not pressed or max(pressed) > instrument.highest_fret:
        return not pressed
    return instrument.presses_mm[max(pressed)] - instrument.presses_mm[min(pressed)] <= _farthest_mm()


@lru_cache(maxsize=4096)
def can_be_played(instrument: Instrument, pitches: frozenset[int]) -> bool:
    """Whether there is a place on the neck where fingers reach these MIDI notes at once, one to a string."""
    limits = (0, instrument.highest_fret)
    return bool(placements(instrument, sorted(pitches), frets=limits, longest_mm=_farthest_mm()))


@lru_cache(maxsize=1)
def _farthest_mm() -> float:
    return _BEYOND * make_hand("large").longest_mm


def _on_strings(stroke: Stroke, planned: PlannedStep, instrument: Instrument) -> Raised | None:
    shape = planned.fingering
    meant = dict(zip(shape.strings, shape.pitches, strict=True))
    if all(meant.get(note.string or 0) == note.pitch for note in stroke.struck):
        return None
    heard = {note.string: note.pitch for note in stroke.held if meant.get(note.string or 0) == note.pitch}
    heard.update({note.string: note.pitch for note in stroke.struck})
    places = {string: pitch for string, pitch in heard.items() if string is not None}
    if not set(places) <= set(range(1, instrument.string_count + 1)) or can_be_held(instrument, places):
        return None
    high = [
        Raised(string, pitch, meant[string])
        for string, pitch in places.items()
        if string in meant and pitch - meant[string] in _HARMONICS
    ]
    if not high and set(places.values()) == set(shape.pitches):
        high = [Raised(note.string, note.pitch, note.pitch - _HARMONICS[0]) for note in stroke.struck]
    open_midi = dict(enumerate(instrument.open_midi, start=1))
    possible = [
        raised
        for raised in high
        if raised.string is not None
        and raised.meant >= open_midi[raised.string]
        and can_be_held(instrument, {**places, raised.string: raised.meant})
    ]
    return possible[0] if len(possible) == 1 else None


def _by_pitch(stroke: Stroke, planned: PlannedStep, instrument: Instrument) -> Raised | None:
    target = frozenset(planned.voicing.midi)
    struck = frozenset(note.pitch for note in stroke.struck)
    if struck <= target:
        return None
    heard = struck | target.intersection(note.pitch for note in stroke.held)
    if len(struck - target) != 1 or can_be_played(instrument, heard):
        return None
    (sent,) = struck - target
    meant = sent - _OCTAVE
    if meant not in target - heard:
        return None
    string = next(note.string for note in stroke.struck if note.pitch == sent)
    return Raised(string, sent, meant) if can_be_played(instrument, heard - {sent} | {meant}) else None


def _lowered(note: NoteOn, raised: Raised) -> NoteOn:
    same = (note.string, note.pitch) == (raised.string, raised.sent)
    return note._replace(pitch=raised.meant) if same else note
