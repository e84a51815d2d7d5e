"""Comparing what sounded with what was meant, note by note.

The heard notes are explained as edits of the planned ones: a tone an octave off, another tone in its place, one that
is missing, one too many. :mod:`listener.judging.explain` says them as a teacher would.

The grade is *hit* for the planned notes and nothing else, and *near* for what a teacher would call "almost": all tones
of the chord and no other, in whatever shape, octave or doubling; or one tone wrong, missing or too many while at least
half of the planned notes are right. A tone that is wrong in the same way in two octaves is one slip, and strings that
only double what sounds anyway may be missing. Everything else is a *miss*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.judging.explain import Edits, reshaped, spoilt
from listener.judging.verdict import HIT, MISS, NEAR, Fault
from listener.judging.words import ChordWords, everyday_chord, nothing, octave_off, other_chord
from listener.music.chord import Chord
from listener.music.pitch import Tone

#: A note this near to a planned one (semitones) stands in its place: a slip by two frets and a string. Our own choice;
#: what is farther away is one note missing and another too many, but for the outer voices, which are easy to tell.
SLIP: Final = 7
#: What an octave counts against a slip of so many semitones when both could explain a note: a voice goes rather a step
#: astray than an octave. Our own choice.
_OCTAVE_PRICE: Final = 2.5
#: Octaves by which a whole chord may be looked for elsewhere.
_SHIFTS: Final = (-1, 1, -2, 2, -3, 3)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The faults, the most useful first, and the grade they add up to."""

    grade: str
    faults: tuple[Fault, ...]


def compare(chord: Chord, target: Sequence[int], heard: Sequence[int], added: Sequence[Tone] = ()) -> Comparison:
    """What is wrong with the heard notes against the planned ones (MIDI); ``added`` spells planned tones that are
    foreign to the chord. Unisons count as one note.

    >>> from listener.music.chord import parse_chord
    >>> [fault.text for fault in compare(parse_chord("C"), (48, 55, 64), (48, 52, 55)).faults]
    ['right chord, but close: lift the E an octave']
    """
    planned, played = tuple(sorted(set(target))), tuple(sorted(set(heard)))
    found = grade(planned, played)
    if found == HIT:
        return Comparison(HIT, ())
    if not played:
        return Comparison(found, (nothing(),))
    words = ChordWords(chord, tuple(added))
    same_tones = _classes(planned) == _classes(played)
    shift = _common_shift(planned, played)
    if shift:
        moved = tuple(note - 12 * shift for note in played)
        edits = edits_between(planned, moved)
        rest = _explained(words, planned, moved, edits, same_tones, sounding_shift=12 * shift)
        return Comparison(found, (octave_off(shift), *rest))
    edits = edits_between(planned, played)
    faults = _explained(words, planned, played, edits, same_tones)
    right = 2 * len(set(planned) & set(played))
    if found == MISS and right <= len(planned) and (edits.tones or edits.missing):
        named = everyday_chord(chord, played, plain=right == len(planned))
        if named is not None:
            return Comparison(found, (other_chord(chord, named), *faults))
    return Comparison(found, faults)


def grade(target: Sequence[int], heard: Sequence[int]) -> str:
    """The grade alone, without a word about why."""
    planned, played = tuple(sorted(set(target))), tuple(sorted(set(heard)))
    if planned == played:
        return HIT
    if not played:
        return MISS
    if _classes(planned) == _classes(played):
        return NEAR
    if _common_shift(planned, played):
        return MISS
    return NEAR if _almost(planned, played, edits_between(planned, played)) else MISS


def _classes(notes: Sequence[int]) -> frozenset[int]:
    return frozenset(note % 12 for note in notes)


def _explained(
    words: ChordWords,
    planned: tuple[int, ...],
    played: tuple[int, ...],
    edits: Edits,
    same_tones: bool,
    sounding_shift: int = 0,
) -> tuple[Fault, ...]:
    if planned == played:
        return ()
    if same_tones and not sounding_shift:
        return reshaped(words, planned, played, edits)
    return spoilt(words, planned, played, edits, sounding_shift)


def _almost(planned: tuple[int, ...], played: tuple[int, ...], edits: Edits) -> bool:
    """One thing wrong, and at least half of the planned notes right."""
    if edits.octaves or 2 * len(set(planned) & set(played)) < len(planned):
        return False
    sounding = _classes(played)
    slips = {(wanted % 12, note % 12) for wanted, note in edits.tones}
    replaced = {wanted for wanted, _ in slips}
    gone = {note % 12 for note in edits.missing} - sounding - replaced
    return len(slips) + len(gone) + len(edits.extra) <= 1


def _common_shift(planned: tuple[int, ...], played: tuple[int, ...]) -> int:
    """Octaves by which the chord as a whole is off, 0 when that does not explain it.

    It does when, put back by these octaves, more than half of the planned notes are right and little is left to say.
    """
    here = len(set(planned) & set(played))
    reshaped_only = len(planned) == len(played) and _classes(planned) == _classes(played)
    allowed = 0 if reshaped_only else max(1, len(planned) // 3)
    for shift in _SHIFTS:
        moved = tuple(note - 12 * shift for note in played)
        right = len(set(planned) & set(moved))
        if right > here and 2 * right > len(planned):
            edits = edits_between(planned, moved)
            if not edits.octaves and len(edits.tones) + len(edits.missing) + len(edits.extra) <= allowed:
                return shift
    return 0


def edits_between(planned: tuple[int, ...], played: tuple[int, ...]) -> Edits:
    """The cheapest plausible explanation, pair by pair."""
    lost = [note for note in planned if note not in played]
    new = [note for note in played if note not in planned]
    only_octaves = _classes(planned) == _classes(played)
    octaves: list[tuple[int, int]] = []
    tones: list[tuple[int, int]] = []
    prices = sorted(
        (price, -wanted, note)
        for wanted in lost
        for note in new
        if (price := _price(wanted, note)) is not None and not (only_octaves and (wanted - note) % 12)
    )
    for _, minus_wanted, note in prices:
        wanted = -minus_wanted
        if wanted in lost and note in new:
            (tones if (wanted - note) % 12 else octaves).append((wanted, note))
            lost.remove(wanted)
            new.remove(note)
    for outer in (-1, 0):
        if not only_octaves and planned[outer] in lost and played[outer] in new:
            tones.append((planned[outer], played[outer]))
            lost.remove(planned[outer])
            new.remove(played[outer])
    return Edits(tuple(sorted(octaves)), tuple(sorted(tones)), tuple(lost), tuple(new))


def _price(wanted: int, note: int) -> float | None:
    distance = abs(wanted - note)
    if distance % 12 == 0:
        return _OCTAVE_PRICE * (distance // 12)
    return float(distance) if distance <= SLIP else None
