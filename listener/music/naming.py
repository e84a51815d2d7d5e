"""What a handful of sounding notes is called: chord, kind of voicing, inversion; the best reading first.

For every root and every quality of the table, the sounding pitch classes are a reading when all of them belong to the
chord and none is missing that it needs; optional tones may be missing, and a bass note that is foreign to a complete
chord above it makes a slash chord. Readings are ranked by a cost, our own choice: seldom qualities, missing tones,
another tone than the root in the bass and foreign basses cost most. So C E G A over C is C6 and over A is Am7, and the
chords that divide the octave evenly (augmented, diminished seventh) take their bass as root.

Chords without root are not guessed at: their notes have a simpler name. Sets of two pitch classes are named only when
they are a fifth; a single one, and what no quality covers, gets no name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from itertools import combinations
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.naming_words import reading_words
from listener.music.pitch import Tone, parse_degree, parse_tone
from listener.music.quality import Quality, qualities
from listener.music.voicing import Voicing, voicing_of

#: Prices, our own choice; a quality's rarity is 0 to 5.
_PER_RARITY: Final = 0.25
_THIRD_OR_FIFTH_IN_BASS: Final = 0.8
_OTHER_TONE_IN_BASS: Final = 1.6
_FOREIGN_BASS: Final = 2.0
_FOREIGN_BASS_DOUBLED: Final = 1.0
_NO_FIFTH_OR_ALTERED: Final = 0.6
#: Ninths and larger chords lose their fifth first, so it is hardly missed there.
_NO_FIFTH_IN_LARGE: Final = 0.3
_NO_EXTENSION: Final = 0.2
#: More readings than this help nobody.
_MOST: Final = 8


@dataclass(frozen=True)
class Naming:
    """One reading of the notes (MIDI, low to high); the lower the cost, the likelier it is meant."""

    chord: Chord
    notes: tuple[int, ...]
    cost: float

    @cached_property
    def voicing(self) -> Voicing:
        """The notes as the chord spells them; worked out when asked for, since the best reading is often enough."""
        return voicing_of(self.chord, self.notes)

    @cached_property
    def missing(self) -> tuple[str, ...]:
        """Optional degrees of the chord that do not sound, but for those that nobody plays."""
        quality = self.chord.quality
        gone = set(quality.optional) - set(quality.avoided) - set(self.voicing.degrees)
        return tuple(d for d in quality.degrees if d in gone)

    @property
    def sentence(self) -> str:
        """The reading in words.

        >>> name_pitches([55, 64, 72])[0].sentence
        'C spread triad, second inversion (5-3-1): G3 E4 C5, span 17 semitones'
        """
        return reading_words(self.voicing, self.missing)

    def as_json(self) -> dict[str, object]:
        """The fields of the ``name`` contract, and the spelled pitches."""
        return {
            "chord": self.voicing.chord.symbol,
            "kind": self.voicing.kind,
            "inversion": self.voicing.inversion,
            "degrees": list(self.voicing.degrees),
            "span": self.voicing.span,
            "names": list(self.voicing.names),
        }


def name_pitches(midi: Sequence[int], *, flats: bool | None = None) -> tuple[Naming, ...]:
    """The readings of these MIDI notes (any order), best first; none when no chord fits.

    ``flats`` fixes how black keys that are roots or foreign basses are spelled; None takes what reads most easily.

    >>> best = name_pitches([55, 64, 72])[0].voicing
    >>> best.chord.symbol, best.kind, best.inversion
    ('C', 'spread', 2)
    """
    return _name_pitches(tuple(sorted(midi)), flats)


def best_name(notes: tuple[int, ...]) -> Naming | None:
    """The first of :func:`name_pitches` for MIDI notes low to high, without the work for the others.

    >>> best_name((48, 60)) is None
    True
    """
    found = _found(notes, None)
    return Naming(found[0][0], notes, found[0][1]) if found else None


@lru_cache(maxsize=4096)
def _name_pitches(notes: tuple[int, ...], flats: bool | None) -> tuple[Naming, ...]:
    return tuple(Naming(chord, notes, cost) for chord, cost in _found(notes, flats))


def _found(notes: tuple[int, ...], flats: bool | None) -> tuple[tuple[Chord, float], ...]:
    if not notes:
        return ()
    if notes[0] < 0 or notes[-1] > 127:
        wrong = next(note for note in notes if not 0 <= note <= 127)
        raise MusicError(f"{wrong} is not a MIDI note; they run from 0 to 127 (60 is C4)", text=str(wrong))
    bass = notes[0] % 12
    above = _mask(notes[1:])
    return _readings(above | 1 << bass, bass, not above >> bass & 1, flats)


def _mask(notes: Iterable[int]) -> int:
    """Pitch classes of notes as the bits of a number, so that a set can be turned and looked up quickly."""
    mask = 0
    for note in notes:
        mask |= 1 << note % 12
    return mask


@cache
def _by_mask() -> dict[int, tuple[tuple[Quality, float], ...]]:
    """Sets of semitones above a root, as bits, with the qualities they may stand for and what these cost."""
    found: dict[int, list[tuple[Quality, float]]] = {}
    for quality in qualities():
        if quality.rarity is None:
            continue
        one_of = {degree for group in quality.either for degree in group}
        may_miss = (*quality.optional, *(d for d in quality.degrees if d in one_of))
        for count in range(len(may_miss) + 1):
            for missing in combinations(may_miss, count):
                if one_of and one_of <= set(missing):
                    continue
                kept = [i for d, i in zip(quality.degrees, quality.intervals, strict=True) if d not in missing]
                price = sum(_missing_price(quality, degree) for degree in missing)
                found.setdefault(_mask(kept), []).append((quality, quality.rarity * _PER_RARITY + price))
    return {mask: tuple(entries) for mask, entries in found.items()}


def _missing_price(quality: Quality, degree: str) -> float:
    if degree == "5" and len(quality.degrees) > 4:
        return _NO_FIFTH_IN_LARGE
    return _NO_EXTENSION if degree in ("9", "11") else _NO_FIFTH_OR_ALTERED


@lru_cache(maxsize=8192)
def _readings(mask: int, bass: int, bass_alone: bool, flats: bool | None) -> tuple[tuple[Chord, float], ...]:
    """Chords for a set of pitch classes over a bass, with their costs, cheapest first."""
    found = [(price + _bass_price(chord, bass), chord) for chord, price in _rooted(mask, flats)]
    over = _FOREIGN_BASS + (0.0 if bass_alone else _FOREIGN_BASS_DOUBLED)
    upper = mask & ~(1 << bass)
    for chord, price in _rooted(upper, flats):
        if upper.bit_count() == len(chord.quality.degrees):
            found.append((price + over, Chord(chord.root, chord.quality, _spell_bass(bass, chord, flats))))
    found.sort(key=lambda entry: entry[0])
    return tuple((chord, round(cost, 3)) for cost, chord in found[:_MOST])


@cache
def _rooted(mask: int, flats: bool | None) -> tuple[tuple[Chord, float], ...]:
    """The chords with a root among these pitch classes that they may stand for, whatever the bass, and their prices."""
    table = _by_mask()
    found: list[tuple[Chord, float]] = []
    for root in range(12):
        if mask >> root & 1:
            turned = (mask >> root | mask << (12 - root)) & 0xFFF
            for quality, price in table.get(turned, ()):
                found.append((Chord(spell_root(root, quality, flats), quality), price))
    return tuple(found)


def _bass_price(chord: Chord, bass: int) -> float:
    degree = chord.degree_of(bass)
    if degree == "1" or degree is None:
        return 0.0
    number, _ = parse_degree(degree)
    return _THIRD_OR_FIFTH_IN_BASS if number in (3, 5, 7) else _OTHER_TONE_IN_BASS


#: Names for a root on each pitch class; the number is what the name costs beside the accidentals of its chord.
_ROOTS: Final = {
    0: (("C", 0),),
    1: (("C#", 0), ("Db", 0)),
    2: (("D", 0),),
    3: (("Eb", 0), ("D#", 2)),
    4: (("E", 0),),
    5: (("F", 0),),
    6: (("F#", 0), ("Gb", 1)),
    7: (("G", 0),),
    8: (("Ab", 0), ("G#", 0)),
    9: (("A", 0),),
    10: (("Bb", 0), ("A#", 4)),
    11: (("B", 0),),
}


@lru_cache(maxsize=4096)
def spell_root(pitch_class: int, quality: Quality, flats: bool | None = None) -> Tone:
    """The name of a chord's root that gives its tones the fewest accidentals; A# is all but never it.

    A flat fifth over a major third counts as the raised fourth that it sounds as, D over A flat and not E double flat:
    else these chords would leave the key of their root for one with seven sharps.

    >>> from listener.music.quality import quality_named
    >>> str(spell_root(8, quality_named("minor"))), str(spell_root(8, quality_named("major")))
    ('G#', 'Ab')
    """
    names = [(parse_tone(name), price) for name, price in _ROOTS[pitch_class]]
    if flats is not None and len(names) > 1:
        return next(tone for tone, _ in names if (tone.alteration < 0) == flats)

    raised = "3" in quality.degrees
    degrees = ["#4" if raised and degree == "b5" else degree for degree in quality.degrees]

    def clutter(tone: Tone) -> int:
        bends = [abs(tone.at(degree).alteration) for degree in degrees]
        return sum(bends) + sum(bend > 1 for bend in bends)

    return min(names, key=lambda name: clutter(name[0]) + name[1])[0]


def _spell_bass(pitch_class: int, chord: Chord, flats: bool | None) -> Tone:
    """A foreign bass: flats beside flats, sharps beside sharps, but B flat and E flat before A sharp and D sharp."""
    names = [parse_tone(name) for name, _ in _ROOTS[pitch_class]]
    if len(names) == 1:
        return names[0]
    if flats is None:
        bend = sum(tone.alteration for tone in chord.tones.values())
        flats = pitch_class in (3, 10) or bend < 0
    return next(tone for tone in names if (tone.alteration < 0) == flats)
