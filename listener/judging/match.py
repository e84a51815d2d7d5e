"""Comparing what sounded with what was meant, note by note, and saying it as a teacher would.

The heard notes are explained as edits of the planned ones: a tone an octave off, another tone in its place, one that
is missing, one too many. Edits that belong together become one fault (all voices an octave low; the right chord in
close position), so that the player hears the cause and not its consequences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.judging.verdict import HIT, MISS, NEAR, Fault
from listener.judging.words import (
    extra,
    inversion,
    missing,
    nothing,
    octave_off,
    other_chord,
    spacing,
    top_note,
    wrong_octave,
    wrong_tone,
)
from listener.music.chord import Chord
from listener.music.voicing import OTHER, inversion_of, kinds_of

#: A note this near to a planned one (semitones) stands in its place: a slip by two frets and a string. Our own choice;
#: what is farther away is one note missing and another too many.
SLIP: Final = 7


@dataclass(frozen=True, slots=True)
class Comparison:
    """The faults, gravest first, and the grade they add up to.

    *near* is what a teacher would call "almost": the right chord in another shape, or one tone wrong, missing or too
    many while at least half of the planned ones are right. Everything else that is not a *hit* is a *miss*.
    """

    grade: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class _Edits:
    """Planned notes against heard ones: (planned, heard) pairs, planned notes left over, heard notes left over."""

    octaves: tuple[tuple[int, int], ...]
    tones: tuple[tuple[int, int], ...]
    missing: tuple[int, ...]
    extra: tuple[int, ...]


def compare(chord: Chord, target: Sequence[int], heard: Sequence[int]) -> Comparison:
    """What is wrong with the heard notes against the planned ones (MIDI).

    >>> from listener.music.chord import parse_chord
    >>> [fault.text for fault in compare(parse_chord("C"), (48, 55, 64), (48, 52, 55)).faults]
    ['right chord, but close: lift the E an octave']
    """
    planned, played = tuple(sorted(target)), tuple(sorted(set(heard)))
    if planned == played:
        return Comparison(HIT, ())
    if not played:
        return Comparison(MISS, (nothing(),))
    shift = _common_shift(planned, played)
    if shift:
        return Comparison(NEAR, (octave_off(shift),))
    edits = _edits(planned, played)
    wrong = len(edits.tones) + len(edits.missing) + len(edits.extra)
    if not wrong:
        return Comparison(NEAR, _reshaped(chord, planned, played, edits))
    right = len(set(planned) & set(played))
    almost = wrong == 1 and not edits.octaves and 2 * right >= len(planned)
    return Comparison(NEAR if almost else MISS, _spoilt(chord, planned, played, edits))


def _common_shift(planned: tuple[int, ...], played: tuple[int, ...]) -> int:
    """Octaves by which the whole chord is off, 0 when it is not just that."""
    if len(planned) != len(played) or not planned:
        return 0
    shift = played[0] - planned[0]
    same = all(b - a == shift for a, b in zip(planned, played, strict=True))
    return shift // 12 if same and shift % 12 == 0 else 0


def _edits(planned: tuple[int, ...], played: tuple[int, ...]) -> _Edits:
    lost = [note for note in planned if note not in played]
    new = [note for note in played if note not in planned]
    octaves: list[tuple[int, int]] = []
    for note in list(lost):
        again = [other for other in new if (other - note) % 12 == 0]
        if again:
            nearest = min(again, key=lambda other: (abs(other - note), other))
            octaves.append((note, nearest))
            lost.remove(note)
            new.remove(nearest)
    tones: list[tuple[int, int]] = []
    while lost and new:
        note, other = min(
            ((a, b) for a in lost for b in new), key=lambda pair: (abs(pair[0] - pair[1]), -pair[0], pair[1])
        )
        if abs(note - other) > SLIP:
            break
        tones.append((note, other))
        lost.remove(note)
        new.remove(other)
    return _Edits(tuple(octaves), tuple(sorted(tones)), tuple(lost), tuple(new))


def _reshaped(chord: Chord, planned: tuple[int, ...], played: tuple[int, ...], edits: _Edits) -> tuple[Fault, ...]:
    """All tones are there, only octaves differ: spacing, inversion, or a single voice in the wrong octave."""
    wanted_kinds = kinds_of(chord, planned)
    kind = next((kind for kind in kinds_of(chord, played) if kind not in wanted_kinds and kind != OTHER), None)
    turned = inversion_of(chord, played[0]) != inversion_of(chord, planned[0])
    faults: list[Fault] = []
    if kind is not None:
        faults.append(spacing(chord, kind, edits.octaves))
        if turned and len(edits.octaves) > 1:
            faults.append(inversion(chord, played, planned))
    elif turned:
        faults.append(inversion(chord, played, planned))
    else:
        faults.extend(wrong_octave(chord, wanted, note) for wanted, note in edits.octaves)
    top_moved = played[-1] != planned[-1]
    explained = len(edits.octaves) == 1
    if top_moved and not explained:
        faults.append(top_note(chord, played[-1], planned[-1]))
    return tuple(faults)


def _spoilt(chord: Chord, planned: tuple[int, ...], played: tuple[int, ...], edits: _Edits) -> tuple[Fault, ...]:
    """Some tones are wrong, missing or too many."""
    top = planned[-1]
    faults: list[Fault] = []
    for wanted, note in reversed(edits.tones):
        if wanted == top and note == played[-1]:
            faults.insert(0, top_note(chord, note, wanted))
        else:
            faults.append(wrong_tone(chord, wanted, note))
    faults.extend(missing(chord, note, is_top=note == top) for note in reversed(edits.missing))
    faults.extend(wrong_octave(chord, wanted, note) for wanted, note in edits.octaves)
    faults.extend(extra(chord, note, on_top=note > top) for note in reversed(edits.extra))
    named = other_chord(chord, played) if len(edits.tones) + len(edits.missing) >= 2 else None
    return tuple(faults) if named is None else (named, *faults)
