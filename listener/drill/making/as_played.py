"""Can it be played? What was heard as a chord, put before the hand that will practise it.

What this hand holds on the strings that sounded stays. What it does not hold cannot have sounded like that: either the
pickup sent one string an octave high, as pickups do now and then, or the strings are not those that it says, or it was
no chord. Each of these is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from listener.drill.making.played import PlayedChord, PlayedNote, Unclear
from listener.guitar.grip import fingerings, which_held
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.pitch import spell

_OCTAVE = 12

Notes = tuple[PlayedNote, ...]


def as_playable(
    chords: Sequence[PlayedChord], instrument: Instrument, hand: Hand
) -> tuple[list[PlayedChord], list[Unclear]]:
    """The chords that this hand can play on this instrument, and what has to be said about the others."""
    known: dict[Notes, tuple[Notes | None, str]] = {}
    found: list[PlayedChord] = []
    unclear: list[Unclear] = []
    for chord in chords:
        if chord.notes not in known:
            known[chord.notes] = _playable(chord.notes, instrument, hand)
        notes, said = known[chord.notes]
        if said:
            unclear.append(Unclear(chord.onset_s, chord.end_s, chord.pitches, said))
        if notes is not None:
            found.append(replace(chord, notes=notes))
    return found, unclear


def names(notes: Sequence[PlayedNote]) -> str:
    """Notes by their plain names, low to high."""
    return " ".join(str(spell(note.pitch)) for note in notes)


def _playable(notes: Notes, instrument: Instrument, hand: Hand) -> tuple[Notes | None, str]:
    """What becomes of these notes: themselves, others or None; and what is to be said about that, "" for nothing."""
    low, high = instrument.range
    if len(notes) > instrument.string_count:
        return None, f"{len(notes)} notes at once are more than {instrument.string_count} strings: left out"
    outside = [note for note in notes if not low <= note.pitch <= high]
    if outside:
        said = f"{names(outside)} lies outside this guitar's range ({names(notes)}): left out"
        return None, f"{said}; is the tuning right?"
    told = all(note.string is not None for note in notes)
    if told and _which_held([notes], instrument, hand)[0]:
        return notes, ""
    if told and (lower := _octave_lower(notes, instrument, hand)) is not None:
        fixed, which = lower
        said = f"{spell(which.pitch)} on string {which.string} is taken an octave lower, where the hand was"
        return fixed, f"{said}: pickups send a note an octave high now and then"
    pitches = [note.pitch for note in notes]
    if fingerings(instrument, hand, pitches, frets=(0, instrument.highest_fret)):
        if not told:
            return notes, ""
        said = f"{names(notes)} lies further apart on the strings that sounded than a {hand.size} hand reaches"
        return tuple(PlayedNote(note.pitch) for note in notes), f"{said}: the planner looks for other strings"
    return None, f"no {hand.size} hand plays {names(notes)} at once: left out"


def _which_held(chords: Sequence[Notes], instrument: Instrument, hand: Hand) -> list[bool]:
    """Which of these the hand holds on the strings that sounded."""
    places = [_places(notes, instrument) for notes in chords]
    held = iter(which_held(instrument, hand, [placed for placed in places if placed]))
    return [bool(placed) and next(held) for placed in places]


def _places(notes: Notes, instrument: Instrument) -> list[tuple[int, int]]:
    """String and fret of each note, nothing where one of them is not on the neck."""
    placed = []
    for note in notes:
        string = note.string or 0
        if not 1 <= string <= instrument.string_count:
            return []
        placed.append((string, note.pitch - instrument.open_midi[string - 1]))
    return placed if all(0 <= fret <= instrument.highest_fret for _, fret in placed) else []


def _octave_lower(notes: Notes, instrument: Instrument, hand: Hand) -> tuple[Notes, PlayedNote] | None:
    """The notes with one of them an octave lower on its string, where that can be held; None where two ways can."""
    ways = []
    for place, note in enumerate(notes):
        lower = replace(note, pitch=note.pitch - _OCTAVE)
        ways.append(tuple(sorted((*notes[:place], lower, *notes[place + 1 :]), key=lambda one: one.pitch)))
    held = _which_held(ways, instrument, hand)
    found = [(fixed, note) for fixed, note, can in zip(ways, notes, held, strict=True) if can]
    return found[0] if len(found) == 1 else None
