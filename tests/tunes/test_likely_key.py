"""The key of a tune or of chords where nobody names it."""

from __future__ import annotations

import pytest

from listener.music.scale import parse_key
from listener.tunes.chord_line import read_chord_line
from listener.tunes.likely_key import fit, key_of_chords, likely_key


@pytest.mark.parametrize(
    ("chords", "key"),
    [
        ("C | Am7 D7/F# | G", "G major"),
        ("C | Am | F | G | C", "C major"),
        ("Am | F | G | Am", "A minor"),
        ("Dm7 | G7 | Cmaj7", "C major"),
        ("Em | B7 | Em", "E minor"),
        ("Bb | Eb | F7 | Bb", "Bb major"),
        ("F#m | D | A | E", "A major"),
        ("Cm | Fm | G7 | Cm", "C minor"),
    ],
)
def test_keys_of_progressions(chords: str, key: str) -> None:
    """What a player would say (common practice), worked out by ear and hand."""
    line = read_chord_line(chords)
    assert str(key_of_chords((one.chord, float(one.length)) for one in line.chords)) == key


@pytest.mark.parametrize("name", ["C major", "A minor", "F# minor", "Bb major", "Eb minor"])
def test_a_scale_played_evenly_is_its_key(name: str) -> None:
    """The seven notes of a key, the tonic longer and last, are that key, by its usual name."""
    key = parse_key(name)
    durations = [0.0] * 12
    for tone in key.tones:
        durations[tone.pitch_class] += 1.0
    durations[key.tonic.pitch_class] += 1.0
    assert str(likely_key(durations, key.tonic.pitch_class)) == name


def test_nothing_fits_nothing() -> None:
    """Equal durations say nothing about any key."""
    assert fit([1.0] * 12, parse_key("C")) == 0.0
    assert fit([0.0] * 12, parse_key("C")) == 0.0
