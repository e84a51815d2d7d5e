"""A melody as values: notes with spelled pitches, chords with their time, and how chords are cut under a melody.

All times are quarter notes from the beginning of the tune, as exact fractions: a triplet eighth is a third, not 0.333.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, NamedTuple

from listener.music.chord import Chord
from listener.music.pitch import Pitch
from listener.music.scale import Key

#: Rests shorter than a sixteenth belong to the note before: nobody plays a chord anew in them (our own choice).
SHORT_REST: Final = Fraction(1, 4)
#: Times given as floats are taken for the nearest fraction with at most this denominator (7! divides it).
_FINEST: Final = 10_080


@dataclass(frozen=True)
class MelodyNote:
    """One note, ties merged. Start and length in quarter notes; in the meter's beats after :meth:`Melody.in_beats`."""

    pitch: Pitch
    start_beats: Fraction
    length_beats: Fraction

    @property
    def end_beats(self) -> Fraction:
        """When it stops."""
        return self.start_beats + self.length_beats


class TimedChord(NamedTuple):
    """A chord and its time; a tuple, since :func:`over_chords` takes such tuples from anywhere."""

    start_beats: Fraction
    length_beats: Fraction
    chord: Chord


@dataclass(frozen=True)
class Melody:
    """One voice of a file: notes in order, never two at once; where none is, there is a rest.

    ``length_beats`` reaches to the end of the file's last bar. ``pickup_beats`` is the length of an incomplete first
    bar, 0 without one. ``chords`` are the chord symbols that stand in the file, ``key`` and ``meter`` (beats in a bar,
    unit) the first that it names. ``remarks`` say what was left out, a short sentence each.
    """

    name: str
    part: str
    notes: tuple[MelodyNote, ...]
    length_beats: Fraction
    chords: tuple[TimedChord, ...] = ()
    key: Key | None = None
    meter: tuple[int, int] | None = None
    pickup_beats: Fraction = Fraction(0)
    remarks: tuple[str, ...] = ()

    def in_beats(self, unit: int) -> Melody:
        """The same with times in beats of a meter of this unit: 8 for eighths, as in 6/8."""
        scale = Fraction(unit, 4)
        return replace(
            self,
            notes=tuple(MelodyNote(n.pitch, n.start_beats * scale, n.length_beats * scale) for n in self.notes),
            length_beats=self.length_beats * scale,
            chords=tuple(TimedChord(start * scale, length * scale, chord) for start, length, chord in self.chords),
            pickup_beats=self.pickup_beats * scale,
        )


@dataclass(frozen=True)
class MelodyStep:
    """A chord, or a part of it, with the one melody note that sounds over it; None over a rest.

    ``begins`` says whether the note begins with the step; if not, it still sounds from the chord before.
    """

    start_beats: Fraction
    length_beats: Fraction
    chord: Chord
    note: MelodyNote | None
    begins: bool = False


def over_chords(
    chords: Iterable[tuple[Fraction | float, Fraction | float, Chord]],
    melody: Melody,
    *,
    short_rest: Fraction = SHORT_REST,
) -> tuple[MelodyStep, ...]:
    """Cut chords, (start, length, chord) in the melody's unit of time, into one step for each melody note over them.

    A note that lasts over a change of chords belongs to both. A rest leaves the chord a step of its own, unless it is
    shorter than ``short_rest``: then the note before lasts through it (at a chord's beginning, the note after begins
    earlier). Notes where no chord is are in no step. The steps of a chord are together exactly as long as the chord.
    """
    steps: list[MelodyStep] = []
    notes = melody.notes
    first, last_start = 0, None
    for begin, lasts, chord in chords:
        start, length = _exact(begin), _exact(lasts)
        if last_start is None or start < last_start:
            first = 0
        last_start = start
        while first < len(notes) and notes[first].end_beats <= start:
            first += 1
        steps.extend(_cut(start, start + length, chord, _sounding(notes, first, start + length), short_rest))
    return tuple(steps)


def _exact(time: Fraction | float) -> Fraction:
    return Fraction(time).limit_denominator(_FINEST) if isinstance(time, float) else Fraction(time)


def _sounding(notes: tuple[MelodyNote, ...], first: int, end: Fraction) -> Iterator[MelodyNote]:
    for index in range(first, len(notes)):
        if notes[index].start_beats >= end:
            return
        yield notes[index]


def _cut(
    start: Fraction, end: Fraction, chord: Chord, notes: Iterable[MelodyNote], short_rest: Fraction
) -> Iterator[MelodyStep]:
    """The steps of one chord, from cut to cut: at every note's beginning, and at the end of one before a real rest."""
    if end <= start:
        return
    pieces: list[tuple[Fraction, MelodyNote | None]] = []
    reached = start
    for note in notes:
        begins = max(note.start_beats, start)
        if begins > reached and begins - reached >= short_rest:
            pieces.append((reached, None))
        pieces.append((begins if pieces else start, note))
        reached = min(note.end_beats, end)
    if not pieces or (end > reached and end - reached >= short_rest):
        pieces.append((reached, None))
    stops = [at for at, _ in pieces[1:]] + [end]
    for (at, over), stop in zip(pieces, stops, strict=True):
        yield MelodyStep(at, stop - at, chord, over, over is not None and over.start_beats >= start)
