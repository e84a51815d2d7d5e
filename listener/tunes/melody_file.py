"""A melody as a small Standard MIDI File, to travel inside a drill: one track, exact times, key and meter."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import lcm
from typing import Final

from listener.music.scale import Key
from listener.smf.writing import META_KEY, META_METER, META_NAME, header_chunk, meta_event, write_track
from listener.tunes.tune import Melody, MelodyNote, TimedChord

#: Ticks in a quarter note at least, and where exact times would need too many (7! divides it).
_LEAST: Final = 96
_USUAL: Final = 10_080
_MOST: Final = 0x7FFF
_VELOCITY: Final = 80
_MOST_SIGNS: Final = 7


def from_first_bar(melody: Melody) -> Melody:
    """The melody from its first full bar on: a drill has no upbeat. Notes and chords that last into the bar are cut."""
    first = melody.pickup_beats
    if not first:
        return melody
    notes = []
    for note in melody.notes:
        start = max(note.start_beats - first, Fraction(0))
        length = note.end_beats - first - start
        if length > 0:
            notes.append(MelodyNote(note.pitch, start, length))
    chords = []
    for begin, lasts, chord in melody.chords:
        start = max(begin - first, Fraction(0))
        length = begin + lasts - first - start
        if length > 0:
            chords.append(TimedChord(start, length, chord))
    return replace(
        melody,
        notes=tuple(notes),
        chords=tuple(chords),
        length_beats=melody.length_beats - first,
        pickup_beats=Fraction(0),
    )


def melody_bytes(melody: Melody, key: Key, meter: tuple[int, int]) -> bytes:
    """The melody (times in quarter notes, no upbeat), as :func:`listener.tunes.melody.read_melody` reads it back."""
    times = [time for note in melody.notes for time in (note.start_beats, note.length_beats)]
    division = lcm(_LEAST, *(time.denominator for time in times))
    if division > _MOST:
        division = _USUAL
    numerator, unit = meter
    events = [
        (0, 0, meta_event(META_NAME, b"melody")),
        (0, 0, meta_event(META_METER, bytes((numerator, unit.bit_length() - 1, 24, 8)))),
    ]
    if abs(key.signature) <= _MOST_SIGNS:
        events.append((0, 0, meta_event(META_KEY, bytes((key.signature & 0xFF, int(key.mode == "minor"))))))
    for note in melody.notes:
        begin, end = round(note.start_beats * division), round(note.end_beats * division)
        events.append((begin, 2, bytes((0x90, note.pitch.midi, _VELOCITY))))
        events.append((max(end, begin + 1), 1, bytes((0x80, note.pitch.midi, 0))))
    events.sort(key=lambda event: event[:2])
    return header_chunk(0, 1, division) + write_track((tick, data) for tick, _, data in events)
