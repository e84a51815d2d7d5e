"""Judging by the chord alone: every voicing of it is right, so only its tones and its slash bass are looked at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from listener.judging.match import SLIP, Comparison
from listener.judging.verdict import HIT, MISS, NEAR, Fault
from listener.judging.words import ChordWords, everyday_chord, other_chord


def compare_chord(words: ChordWords, heard: Sequence[int], needed: Iterable[str]) -> Comparison:
    """What is wrong with the heard notes (MIDI, at least one) as a voicing of the chord.

    ``needed`` are the degrees that must sound; tones that the chord has beside them may. One slip is *near* while at
    least half of the needed tones sound; a complete everyday chord on another root is a *miss*, however much it
    shares.
    """
    chord = words.chord
    played = tuple(sorted(set(heard)))
    added = {tone.pitch_class for tone in words.added}
    sounding = {chord.degree_of(note) for note in played}
    wanted = [degree for degree in chord.quality.degrees if degree in set(needed)]
    missing = [degree for degree in wanted if degree not in sounding]
    strangers = [note for note in played if chord.tone_of(note) is None and note % 12 not in added]
    bass = _bass_faults(words, played, strangers)
    right = len(wanted) - len(missing)
    faults = [*bass, *_replaced(words, strangers, missing)]
    faults += [words.missing_degree(degree) for degree in missing]
    faults += [words.extra(note, place=_place(played, note)) for note in reversed(strangers)]
    if not faults:
        return Comparison(HIT, ())
    named = everyday_chord(chord, played) if right < len(wanted) else None
    if named is not None and named.root.pitch_class != chord.root.pitch_class:
        return Comparison(MISS, (other_chord(chord, named), *faults))
    almost = len(faults) == 1 and 2 * right >= len(wanted)
    return Comparison(NEAR if almost else MISS, tuple(faults))


def _bass_faults(words: ChordWords, played: tuple[int, ...], strangers: list[int]) -> list[Fault]:
    """What is wrong with the slash bass; a stranger in its place is taken from the list."""
    bass = words.chord.bass
    if bass is None or played[0] % 12 == bass.pitch_class:
        return []
    if any(note % 12 == bass.pitch_class for note in played) and played[0] not in strangers:
        return [words.inversion(played[0], bass.above(played[0]).midi)]
    if played[0] in strangers:
        stranger = strangers.pop(0)
        return [words.wrong_tone(_nearest(stranger, bass.pitch_class), stranger)]
    return [words.missing_bass()]


def _replaced(words: ChordWords, strangers: list[int], missing: list[str]) -> list[Fault]:
    """Strangers that stand in the place of missing tones, nearest first; both are taken from their lists."""
    pairs = []
    for note in strangers:
        for degree in missing:
            wanted = _nearest(note, words.chord.tones[degree].pitch_class)
            pairs.append((abs(wanted - note), -note, wanted, degree))
    found: list[tuple[int, Fault]] = []
    for _, minus_note, wanted, degree in sorted(pair for pair in pairs if pair[0] <= SLIP):
        if -minus_note in strangers and degree in missing:
            strangers.remove(-minus_note)
            missing.remove(degree)
            found.append((minus_note, words.wrong_tone(wanted, -minus_note)))
    return [fault for _, fault in sorted(found, key=lambda entry: entry[0])]


def _nearest(note: int, pitch_class: int) -> int:
    """The note of a pitch class that is nearest to another note, the lower one of two."""
    above = (pitch_class - note) % 12
    return note + above if above < 6 else note + above - 12


def _place(played: tuple[int, ...], note: int) -> str:
    return "on top" if note == played[-1] else "in the bass" if note == played[0] else ""
