"""Chords that stood in free playing: each voicing once for as long as it stands, however it is strummed or picked.

A chord begins with a stroke of three strings and more, or with the third string of those that are plucked one by one;
one that is picked grows until a string of its own comes again. It stands until another chord comes: strummed again, in
part, or after a breath it is still the same. A tune over it, its bass by itself, and what has no name begin none. Fewer
than three different pitches are no chord here. Pure; all of it is our own choice.

What is written down as a drill (:mod:`listener.judging.free.transcribing`) is parted by another rule and has to be:
here a tune over a chord is no chord and how long a note will ring is not known yet, there every voice that moves is a
chord of its own and nothing needs a name.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from listener.drill.making.played import PlayedNote
from listener.hearing.events import Stroke, low_to_high, place_of
from listener.music.naming import best_name
from listener.music.voicing import Voicing

#: Different pitches that make a chord, and strings that make one that is broken.
FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class Stood:
    """One chord that stood: its best name, and the strings of its notes from the lowest pitch to the highest (1 is the
    highest string); empty where the pickup does not tell strings apart."""

    voicing: Voicing
    strings: tuple[int, ...]


class StandingChord:
    """Strokes in, chords out, each when it is over."""

    def __init__(self) -> None:
        self._stands: Stood | None = None
        self._notes: frozenset[PlayedNote] = frozenset()
        self._grows = False
        #: What was plucked string by string and still sounds.
        self._plucked: frozenset[PlayedNote] = frozenset()

    def feed(self, stroke: Stroke) -> Stood | None:
        """One settled stroke; the chord that it put an end to, if there is one."""
        # On a string that was hammered or slid within the stroke, its last note is the chord's.
        places = {place_of(note): PlayedNote(note.pitch, note.string) for note in (*stroke.held, *stroke.struck)}
        sounding = frozenset(places.values())
        struck = frozenset(places[place_of(note)] for note in stroke.struck)
        at_once = len(_pitches(struck)) >= FEWEST
        self._plucked = frozenset() if at_once else (self._plucked | struck) & sounding
        if not at_once and len(_pitches(self._plucked)) < FEWEST:
            return None
        if sounding <= self._notes:
            self._grows = False
            return None
        if not at_once and not self._grows and self._is_tune(sounding - self._notes):
            return None
        notes = sorted(sounding, key=low_to_high)
        named = best_name(tuple(note.pitch for note in notes))
        if named is None:
            return None
        before = None if self._grows and sounding > self._notes else self._stands
        strings = tuple(note.string for note in notes if note.string is not None)
        self._stands = Stood(named.voicing, strings if len(strings) == len(notes) else ())
        self._notes = sounding
        self._grows = not at_once
        return before

    def end(self) -> Stood | None:
        """Nothing goes on from here: the chord that stood until now."""
        stood, self._stands = self._stands, None
        self._notes = self._plucked = frozenset()
        self._grows = False
        return stood

    def _is_tune(self, new: frozenset[PlayedNote]) -> bool:
        """Whether notes that were plucked while a whole chord stands are but a tune: one that is no new bass, or two
        above the chord."""
        if not self._notes:
            return False
        pitches, chord = _pitches(new), _pitches(self._notes)
        above = min(pitches) > max(chord) and len(pitches) < FEWEST
        return above or (len(pitches) == 1 and min(pitches) > min(chord))


def _pitches(notes: Iterable[PlayedNote]) -> frozenset[int]:
    return frozenset(note.pitch for note in notes)
