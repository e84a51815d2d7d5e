"""Voicings: which pitches a chord is played with, how they are spaced, and what that spacing is called.

The kinds, exactly:

- *close*: all different tones, span under an octave, so neighbouring tones lie next to each other.
- *spread*: a close triad with its middle note raised an octave. Root position is 1-5-3, first inversion 3-1-5,
  second 5-3-1, so the inversion fixes which degree is on top.
- *drop 2*, *drop 3*, *drop 2 & 4*: a close four-note chord with that voice, counted from the top, an octave lower.
- *shell*: root in the bass with the third and the seventh (or sixth) above it, nothing else (common practice).
- *full*: at least one tone doubled and none missing that the chord needs: the strummed shape. A wish for full shapes
  takes any that sounds on four strings or more, for a ninth is strummed without doubling anything.
- *other*: none of these.

"Open position" has two textbook meanings (gaps between chord tones; or an octave and more between soprano and
tenor). We use the first and call it spread, for three-note chords only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.chord import interval_degree as interval_degree
from listener.music.pitch import Pitch, Tone, spell

CLOSE: Final = "close"
SPREAD: Final = "spread"
DROP_2: Final = "drop 2"
DROP_3: Final = "drop 3"
DROP_2_4: Final = "drop 2 & 4"
SHELL: Final = "shell"
FULL: Final = "full"
OTHER: Final = "other"
#: The kinds that a wish may name, in teaching order; ``other`` only describes.
KINDS: Final = (CLOSE, SPREAD, SHELL, DROP_2, DROP_3, DROP_2_4, FULL)
#: In a wish: every spacing of the chord's tones, none doubled.
ANY: Final = "any"


@dataclass(frozen=True)
class Voicing:
    """Pitches low to high with the degree of each in the chord.

    ``inversion`` is 0 for the root in the bass, 1 for the next tone up in thirds, and so on; None when the bass is
    no tone of the chord.
    """

    chord: Chord
    pitches: tuple[Pitch, ...]
    degrees: tuple[str, ...]
    kind: str
    inversion: int | None

    @cached_property
    def midi(self) -> tuple[int, ...]:
        """MIDI notes, low to high."""
        return tuple(pitch.midi for pitch in self.pitches)

    @property
    def names(self) -> tuple[str, ...]:
        """Spelled names with octave, low to high."""
        return tuple(map(str, self.pitches))

    @property
    def top(self) -> Pitch:
        """The highest pitch."""
        return self.pitches[-1]

    @property
    def span(self) -> int:
        """Semitones from the lowest to the highest pitch."""
        return self.midi[-1] - self.midi[0]


def voicing_of(chord: Chord, midi: Iterable[int], *, added: Iterable[Tone] = ()) -> Voicing:
    """The voicing that these MIDI notes are of this chord.

    Every note must belong to the chord, be its slash bass, or be one of the ``added`` tones (a melody note, a scale
    over held tones), which keep their spelling and are labelled by their interval above the root: D over C is ``"2"``.
    """
    notes = tuple(sorted(midi))
    if not notes:
        raise MusicError("a voicing needs at least one note")
    strangers = {tone.pitch_class: tone for tone in added}
    pitches, degrees = [], []
    tones = chord.tones
    for note in notes:
        degree = chord.degree_of(note)
        tone = tones[degree] if degree is not None else chord.tone_of(note) or strangers.get(note % 12)
        if tone is None:
            raise MusicError(f"{spell(note)} is not a tone of {chord}", text=str(note))
        pitches.append(tone.pitch(note))
        degrees.append(degree or interval_degree(chord.root, tone))
    return Voicing(chord, tuple(pitches), tuple(degrees), kind_of(chord, notes), inversion_of(chord, notes[0]))


def bass_degree(chord: Chord) -> str:
    """The slash bass as a degree of the chord's root: D under C is ``"2"``."""
    return "1" if chord.bass is None else interval_degree(chord.root, chord.bass)


def inversion_of(chord: Chord, lowest: int) -> int | None:
    """Which tone of the chord lies lowest, counted in thirds from the root; None for a foreign bass."""
    degree = chord.degree_of(lowest)
    return None if degree is None else chord.quality.degrees.index(degree)


def kind_of(chord: Chord, midi: Sequence[int]) -> str:
    """What the spacing of these notes (low to high) is called; a foreign slash bass is left out of account."""
    return kinds_of(chord, midi)[0]


def kinds_of(chord: Chord, midi: Sequence[int]) -> tuple[str, ...]:
    """Every kind that these notes (low to high) are, the most telling first: a shell may also be close or spread.

    >>> from listener.music.chord import parse_chord
    >>> kinds_of(parse_chord("Cmaj7"), [48, 59, 64])
    ('shell', 'spread')
    """
    notes = list(midi)
    if chord.bass is not None and notes and chord.degree_of(notes[0]) is None:
        notes = notes[1:]
    classes = [note % 12 for note in notes]
    degrees = [chord.degree_of(note) for note in notes]
    if len(notes) < 2 or None in degrees:
        return (OTHER,)
    if len(set(classes)) < len(classes):
        needed = set(chord.quality.never) | set(chord.quality.required)
        return (FULL,) if needed <= set(degrees) else (OTHER,)
    spacing = spacing_of(notes)
    if _is_shell(chord, degrees):
        return (SHELL,) if spacing == OTHER else (SHELL, spacing)
    return (spacing,)


def spacing_of(notes: Sequence[int]) -> str:
    """Close, spread, a drop voicing or other, from the pitches alone (all different tones, low to high)."""
    if len(notes) < 2 or len({note % 12 for note in notes}) < len(notes):
        return OTHER
    if notes[-1] - notes[0] < 12:
        return CLOSE
    if len(notes) == 3:
        low, middle, high = notes
        return SPREAD if low < high - 12 < middle < low + 12 else OTHER
    if len(notes) == 4:
        for kind, lowered in _DROPS.items():
            raised = _raise_lowest(notes, len(lowered))
            if raised is not None and _lower(raised, lowered) == tuple(notes):
                return kind
    return OTHER


#: Voices of a close four-note chord that each kind lowers, counted from the top.
_DROPS: Final = {DROP_2: (2,), DROP_3: (3,), DROP_2_4: (2, 4)}


def _raise_lowest(notes: Sequence[int], count: int) -> tuple[int, ...] | None:
    raised = tuple(sorted([note + 12 for note in notes[:count]] + list(notes[count:])))
    return raised if raised[-1] - raised[0] < 12 else None


def _lower(close: Sequence[int], voices: Iterable[int]) -> tuple[int, ...]:
    notes = list(close)
    for voice in voices:
        notes[len(notes) - voice] -= 12
    return tuple(sorted(notes))


def _is_shell(chord: Chord, degrees: Sequence[str | None]) -> bool:
    third_and_seventh = _shell_tones(chord)
    return (
        third_and_seventh is not None
        and len(degrees) == 3
        and degrees[0] == "1"
        and set(degrees[1:]) == set(third_and_seventh)
    )


def _shell_tones(chord: Chord) -> tuple[str, str] | None:
    thirds = [d for d in chord.quality.degrees if d in ("3", "b3", "4", "2")]
    sevenths = [d for d in chord.quality.degrees if d in ("7", "b7", "bb7", "6")]
    return (thirds[0], sevenths[0]) if thirds and sevenths else None


def tone_sets(chord: Chord, size: int | None = None, without: Iterable[str] = ()) -> Iterator[tuple[str, ...]]:
    """The sets of degrees that may stand for a chord, fullest first.

    Optional tones go in the order of the quality's policy; tones in ``without`` are left out altogether (they must
    not be never-dropped ones, nor all of the alternatives). ``size`` picks the sets of that many tones.
    """
    quality = chord.quality
    left_out = set(without)
    spoilt = left_out & set(quality.never)
    groups = [group for whole in quality.either if (group := [degree for degree in whole if degree not in left_out])]
    if quality.either and not groups:
        spoilt.update(degree for group in quality.either for degree in group)
    if spoilt:
        raise MusicError(f"{chord} without its {', '.join(sorted(spoilt))} is another chord")
    one_of = {degree for group in groups for degree in group}
    degrees = [degree for degree in quality.degrees if degree not in {*left_out, *quality.avoided}]
    going = [degree for degree in quality.optional if degree in degrees]
    for count in range(len(going) + 1):
        for picked in _picked(groups):
            gone = {*going[:count], *(one_of - picked)}
            chosen = tuple(degree for degree in degrees if degree not in gone)
            if size is None or len(chosen) == size:
                yield chosen


def _picked(groups: Sequence[Sequence[str]]) -> Iterator[set[str]]:
    """Alternatives of which one of each group sounds, then one alone; nothing at all where there are no groups."""
    for picked in product(*groups):
        yield set(picked)
    if len(groups) > 1:
        for group in groups:
            for degree in group:
                yield {degree}


def voicings(
    chord: Chord,
    kind: str,
    *,
    low: int,
    high: int,
    inversion: int | None = None,
    without: Iterable[str] = (),
    size: int | None = None,
) -> list[tuple[int, ...]]:
    """All pitch sets of a kind (not *full*, which depends on the neck) between two MIDI notes, low ones first.

    A slash bass is the lowest note: as one of the chord's tones it fixes the inversion, otherwise it stands below
    the voicing, at most two octaves under the lowest upper voice.
    """
    if kind == FULL or (kind not in KINDS and kind != ANY):
        raise MusicError(f"'{kind}' voicings cannot be built from pitches alone", text=kind)
    foreign = chord.bass is not None and chord.degree_of(chord.bass.pitch_class) is None
    found: set[tuple[int, ...]] = set()
    for degrees in _degree_sets(chord, kind, without, size if not foreign or size is None else size - 1):
        classes = [chord.tones[degree].pitch_class for degree in degrees]
        for notes in _spaced(classes, kind, low, high):
            if kind == SHELL and notes[0] % 12 != chord.root.pitch_class:
                continue
            if foreign and chord.bass is not None:
                found.update(_over_bass(chord.bass, notes, low))
            elif _bass_fits(chord, notes[0], inversion):
                found.add(notes)
    return sorted(found)


def _degree_sets(chord: Chord, kind: str, without: Iterable[str], size: int | None) -> Iterator[tuple[str, ...]]:
    if kind == SHELL:
        shell = _shell_tones(chord)
        if shell is not None:
            yield ("1", *shell)
        return
    fixed = {SPREAD: 3, DROP_2: 4, DROP_3: 4, DROP_2_4: 4}.get(kind, size)
    yield from tone_sets(chord, fixed, without)


def _bass_fits(chord: Chord, lowest: int, inversion: int | None) -> bool:
    if chord.bass is not None and lowest % 12 != chord.bass.pitch_class:
        return False
    return inversion is None or inversion_of(chord, lowest) == inversion


def _over_bass(bass: Tone, notes: tuple[int, ...], low: int) -> Iterator[tuple[int, ...]]:
    for note in range(max(low, notes[0] - 24), notes[0]):
        if note % 12 == bass.pitch_class:
            yield (note, *notes)


def _spaced(classes: Sequence[int], kind: str, low: int, high: int) -> Iterator[tuple[int, ...]]:
    if kind in (ANY, SHELL):
        ranges = [[note for note in range(low, high + 1) if note % 12 == pc] for pc in classes]
        for notes in product(*ranges):
            yield tuple(sorted(notes))
        return
    for close in _close_positions(classes, low - 12, high + 12):
        if kind == CLOSE:
            notes = close
        elif kind == SPREAD:
            notes = (close[0], close[2], close[1] + 12)
        else:
            notes = _lower(close, _DROPS[kind])
        if low <= notes[0] and notes[-1] <= high:
            yield notes


def _close_positions(classes: Sequence[int], low: int, high: int) -> Iterator[tuple[int, ...]]:
    """Every close position whose lowest note lies between low and high."""
    for lowest in range(low, high + 1):
        if lowest % 12 in classes:
            yield tuple(sorted(lowest + (pc - lowest) % 12 for pc in classes))
