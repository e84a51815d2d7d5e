"""The candidates of a wish by trying every fret on every string: slow, plain, and the judge of the quick search."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from plain_grip import plain_grip

from listener.drill.drill import Wish
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import USUAL_HIGHEST_FRET
from listener.music.chord import Chord
from listener.music.voicing import ANY, CLOSE, FULL, SHELL, kinds_of, spacing_of, tone_sets

Shape = tuple[tuple[int, int], ...]
_WIDTH = {"spread": 3, "drop 2": 4, "drop 3": 4, "drop 2 & 4": 4}


def plain_candidates(wish: Wish, instrument: Instrument, hand: Hand) -> set[Shape]:
    """(string, fret) pairs, lowest string first, of every shape that fulfils the wish and that the hand holds."""
    found = set()
    choices = _choices(wish, instrument)
    sounds = {place: instrument.pitch(*place) for places in choices for place in places if place is not None}
    kinds = [(kind, _class_sets(kind, wish)) for kind in wish.kinds]
    for shape in _shapes(choices):
        notes = sorted([sounds[place] for place in shape])
        muted = shape[0][0] - shape[-1][0] + 1 - len(shape)
        if (
            wish.top.allows(wish.chord, notes[-1])
            and wish.bottom.allows(wish.chord, notes[0])
            and any(_is(kind, sets, wish, notes, muted) for kind, sets in kinds)
            and plain_grip(instrument, hand, shape) is not None
        ):
            found.add(shape)
    return found


def _choices(wish: Wish, instrument: Instrument) -> list[list[tuple[int, int] | None]]:
    """For every string: muted (None), open, or a fret where a tone of the wish sounds."""
    low, high = wish.frets or (0, USUAL_HIGHEST_FRET)
    classes = set(wish.chord.pitch_classes)
    if wish.added_top and wish.top.pitch is not None:
        classes.add(wish.top.pitch.midi % 12)
    choices: list[list[tuple[int, int] | None]] = []
    for string in range(instrument.string_count, 0, -1):
        frets = [fret for fret in range(max(low, 1), min(high, instrument.highest_fret) + 1)]
        if wish.open_strings:
            frets.insert(0, 0)
        if wish.strings is not None and string not in wish.strings:
            frets = []
        choices.append([None, *((string, fret) for fret in frets if instrument.pitch(string, fret) % 12 in classes)])
    return choices


def _shapes(choices: list[list[tuple[int, int] | None]]) -> Iterator[Shape]:
    """Every way to choose on every string."""
    for chosen in product(*choices):
        shape = tuple(place for place in chosen if place is not None)
        if shape:
            yield shape


def _is(kind: str, sets: list[set[int]], wish: Wish, notes: list[int], muted: int) -> bool:
    """Whether these notes are a voicing of this kind with one of these sets of tones, by the definitions in words."""
    chord = wish.chord
    known = set().union(*sets)
    bass = chord.bass.pitch_class if chord.bass is not None else None
    inner = list(notes)
    if wish.added_top and wish.top.pitch is not None and wish.top.pitch.midi % 12 not in known:
        top = inner.pop()
        if not inner or not 0 < top - inner[-1] <= 12:
            return False
    if wish.size is not None and len(inner) != wish.size:
        return False
    if bass is not None and notes[0] % 12 != bass:
        return False
    if bass is not None and (chord.degree_of(bass) is None or (kind == FULL and bass not in known)):
        lowest = inner.pop(0)
        if not inner or (kind != FULL and inner[0] - lowest > 24):
            return False
    elif wish.inversion is not None:
        degrees = chord.quality.degrees
        if wish.inversion >= len(degrees) or chord.degree_of(notes[0]) != degrees[wish.inversion]:
            return False
    sounding = {note % 12 for note in inner}
    if kind == FULL:
        sounds = len(notes) - (len(inner) < len(notes) and wish.added_top and notes[-1] not in inner)
        return muted <= 1 and sounding <= known and sets[1] <= sounding < set(range(12)) and sounds >= 4
    if len(sounding) < len(inner) or sounding not in sets:
        return False
    if kind == SHELL:
        return inner[0] % 12 == chord.root.pitch_class
    return kind == ANY or spacing_of(inner) == kind or (kind == CLOSE and CLOSE in kinds_of(chord, inner))


def _class_sets(kind: str, wish: Wish) -> list[set[int]]:
    """The sets of pitch classes that stand for the chord; for *full* all of its tones, then the needed ones."""
    chord = wish.chord

    def classes(degrees: tuple[str, ...]) -> set[int]:
        return {chord.tones[degree].pitch_class for degree in degrees}

    if kind == SHELL:
        return [_shell(chord)] if _shell(chord) else []
    if kind == FULL:
        tones = next(tone_sets(chord, None, wish.without))
        return [classes(tones), classes(tuple(one for one in tones if one not in chord.quality.optional))]
    foreign = chord.bass is not None and chord.degree_of(chord.bass.pitch_class) is None
    size = wish.size - foreign if wish.size is not None else None
    return [classes(tones) for tones in tone_sets(chord, _WIDTH.get(kind, size), wish.without)]


def _shell(chord: Chord) -> set[int]:
    """Root, third (or what stands for it) and seventh (or sixth); nothing when the chord lacks one."""
    thirds = [degree for degree in chord.quality.degrees if degree in ("3", "b3", "4", "2")]
    sevenths = [degree for degree in chord.quality.degrees if degree in ("7", "b7", "bb7", "6")]
    if not thirds or not sevenths:
        return set()
    return {chord.tones[degree].pitch_class for degree in ("1", thirds[0], sevenths[0])}
