"""From a wish to the tones that may sound: which bits a shape's mask has to have, kind by kind."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from listener.drill.drill import Wish
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.voicing import ANY, DROP_2, DROP_2_4, DROP_3, FULL, KINDS, SHELL, SPREAD, tone_sets, voicings
from listener.planning.shapes.neck import Tones

#: How many different tones a kind has, where it says so.
_WIDTH: Final = {SPREAD: 3, DROP_2: 4, DROP_3: 4, DROP_2_4: 4}


def foreign_bass(chord: Chord) -> int | None:
    """The pitch class of a slash bass that is no tone of the chord; None for any other chord."""
    if chord.bass is None or chord.degree_of(chord.bass.pitch_class) is not None:
        return None
    return chord.bass.pitch_class


def wished_tones(wish: Wish, kind: str) -> Tones:
    """What may sound in a voicing of this kind, and what has to.

    Raises :class:`MusicError` for a kind that does not exist and when the wish leaves out what makes the chord itself.
    """
    chord = wish.chord
    if kind not in (*KINDS, ANY):
        raise MusicError(f"'{kind}' voicings cannot be built; the kinds are {', '.join(KINDS)} and {ANY}", text=kind)
    allowed, sets = _class_sets(wish, kind)
    classes = sorted(allowed)
    bit_of = {pitch_class: 1 << place for place, pitch_class in enumerate(classes)}
    bits = [bit_of.get(pitch_class, 0) for pitch_class in range(12)]
    bass_bit = top_bit = 0
    bass = chord.bass.pitch_class if chord.bass is not None else None
    if bass is not None and (bass == foreign_bass(chord) or (kind == FULL and bass not in bit_of)):
        bass_bit = bits[bass] = 1 << len(classes)
    top = wish.top.pitch.midi if wish.added_top and wish.top.pitch is not None else None
    if top is not None and top % 12 not in bit_of:
        top_bit = 1 << (len(classes) + 1)
    return Tones(
        bits=tuple(bits),
        wanted=tuple(dict.fromkeys(sum(bit_of[tone] for tone in tones) | bass_bit | top_bit for tones in sets)),
        doubled=kind == FULL,
        bass_bit=bass_bit,
        top_midi=top if top_bit else None,
        top_bit=top_bit,
    )


def _class_sets(wish: Wish, kind: str) -> tuple[frozenset[int], list[frozenset[int]]]:
    """The pitch classes that may sound, and the sets of them of which one has to."""
    chord = wish.chord
    if kind == SHELL:
        shells = voicings(Chord(chord.root, chord.quality), SHELL, low=0, high=35)
        sets = [frozenset(note % 12 for note in shells[0])] if shells else []
    elif kind == FULL:
        tones = next(tone_sets(chord, None, wish.without))
        needed = [degree for degree in tones if degree not in chord.quality.optional]
        return _classes(chord, tones), [_classes(chord, needed)]
    else:
        upper = None if wish.size is None else wish.size - (foreign_bass(chord) is not None)
        sets = [_classes(chord, tones) for tones in tone_sets(chord, _WIDTH.get(kind, upper), wish.without)]
    return frozenset().union(*sets), sets


def _classes(chord: Chord, degrees: Iterable[str]) -> frozenset[int]:
    return frozenset(chord.tones[degree].pitch_class for degree in degrees)
