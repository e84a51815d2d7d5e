"""Which key a tune or a progression is likely in, where nobody says so.

How long each pitch class sounds is compared with the profiles of C. L. Krumhansl and E. J. Kessler ("Tracing the
dynamic changes in perceived tonal organization in a spatial representation of musical keys", Psychological Review 89,
1982): the key whose profile correlates best wins. Tunes mostly end on their tonic and progressions on its chord (common
practice), so the last note counts extra; how much is our own choice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from math import sqrt
from typing import Final

from listener.music.chord import Chord
from listener.music.scale import Key, Mode, usual_tonic
from listener.tunes.tune import Melody

#: How well each semitone above the tonic fits its key, from the listening tests of the paper.
PROFILES: Final[dict[Mode, tuple[float, ...]]] = {
    "major": (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88),
    "minor": (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17),
}
#: Added to the correlation (-1 to 1) of the keys whose tonic comes last (our own choice).
_LAST_IS_TONIC: Final = 0.2
#: Semitones from the root that tell a minor chord from a major one.
_MINOR_THIRD: Final = 3


def likely_key(durations: Sequence[float], last: int | None = None, mode: Mode | None = None) -> Key:
    """The likeliest key from how long each of the twelve pitch classes sounds (any unit, C first).

    ``last`` is the pitch class on which the music ends; ``mode`` is set where only keys on it of that mode end so.
    """
    return max(_keys(), key=lambda key: fit(durations, key) + _ending(key, last, mode))


@cache
def _keys() -> tuple[Key, ...]:
    return tuple(Key(usual_tonic(number, mode), mode) for mode in PROFILES for number in range(12))


def _ending(key: Key, last: int | None, mode: Mode | None) -> float:
    ends = key.tonic.pitch_class == last and mode in (None, key.mode)
    return _LAST_IS_TONIC if ends else 0.0


def fit(durations: Sequence[float], key: Key) -> float:
    """The correlation (Pearson) of durations with the key's profile; 0 where all last equally long."""
    mean = sum(durations) / 12
    ours = [value - mean for value in durations]
    theirs, spread = _turned(key)
    size = sqrt(sum(one * one for one in ours) * spread)
    return sum(one * other for one, other in zip(ours, theirs, strict=True)) / size if size else 0.0


@cache
def _turned(key: Key) -> tuple[tuple[float, ...], float]:
    """A key's profile from C on, less its mean, and the sum of the squares of that."""
    profile = PROFILES[key.mode]
    turned = [profile[(number - key.tonic.pitch_class) % 12] for number in range(12)]
    middle = sum(turned) / 12
    theirs = tuple(value - middle for value in turned)
    return theirs, sum(other * other for other in theirs)


def key_of_melody(melody: Melody) -> Key:
    """The likeliest key of a tune."""
    durations = [0.0] * 12
    for note in melody.notes:
        durations[note.pitch.midi % 12] += float(note.length_beats)
    return likely_key(durations, melody.notes[-1].pitch.midi % 12 if melody.notes else None)


def key_of_chords(chords: Iterable[tuple[Chord, float]]) -> Key:
    """The likeliest key of chords with their lengths (any unit): every tone sounds as long as its chord."""
    durations = [0.0] * 12
    last: Chord | None = None
    for chord, length in chords:
        for number in chord.pitch_classes:
            durations[number] += length
        last = chord
    if last is None:
        return likely_key(durations)
    return likely_key(durations, last.root.pitch_class, _mode_of(last))


def _mode_of(chord: Chord) -> Mode:
    return "minor" if chord.degree_of(chord.root.pitch_class + _MINOR_THIRD) == "b3" else "major"
