"""Passages in other keys and diatonic cycles against music21."""

from __future__ import annotations

import warnings
from typing import Any

import pytest

from listener.music.pitch import parse_tone
from listener.music.scale import Key, parse_key
from listener.planning.drill_file import read_drill
from listener.planning.keys import round_of_keys
from listener.planning.transposing import usual_tonic

STEPS = {"seconds": 1, "thirds": 2, "fourths": 3, "fifths": 4, "sixths": 5, "sevenths": 6}
NUMERALS = ("I", "ii", "iii", "IV", "V", "vi", "viio")


@pytest.fixture(scope="module")
def music21() -> Any:
    """The library, which takes a while to load."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    return music21


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_usual_tonics_have_the_fewest_signs(music21: Any, mode: str) -> None:
    """music21 counts no enharmonic key with fewer sharps or flats than the one we take."""
    for pitch_class in range(12):
        ours = usual_tonic(pitch_class, mode)  # type: ignore[arg-type]
        names = [f"{letter}{sign}" for letter in "CDEFGAB" for sign in ("", "#", "-")]
        same = [n for n in names if parse_tone(n.replace("-", "b")).pitch_class == pitch_class]
        least = min(abs(music21.key.Key(name, mode).sharps) for name in same)
        assert abs(music21.key.Key(str(ours).replace("b", "-"), mode).sharps) == least


@pytest.mark.parametrize("by", STEPS)
@pytest.mark.parametrize("key", ["C major", "Eb major", "F# major"])
def test_diatonic_cycles(music21: Any, by: str, key: str) -> None:
    """The triads of each cycle are music21's numerals on the degrees one gets by counting."""
    drill = read_drill(f'title = "t"\nkey = "{key}"\n[[passage]]\nby = "{by}"\ndirection = "up"', "t")
    theirs = music21.key.Key(key.split()[0].replace("b", "-"), "major")
    for number, step in enumerate(drill.steps):
        expected = music21.roman.RomanNumeral(NUMERALS[number * STEPS[by] % 7], theirs)
        names = [pitch.name.replace("-", "b") for pitch in expected.pitches]
        assert [str(tone) for tone in step.wish.chord.tones.values()] == names


def test_numerals_through_all_keys(music21: Any) -> None:
    """Moving ii V I vi from C through the round of fourths gives the chords that music21 reads in each key."""
    text = """
title = "t"
key = "C major"
[[passage]]
numerals = "ii | V | I | vi | IV"
keys = "round of fourths"
"""
    steps = read_drill(text, "t").steps
    keys = round_of_keys(Key(parse_tone("C")), 5)
    for number, step in enumerate(steps):
        tonic = str(keys[number // 5].tonic).replace("b", "-")
        numeral = ("ii", "V", "I", "vi", "IV")[number % 5]
        expected = music21.roman.RomanNumeral(numeral, music21.key.Key(tonic, "major"))
        names = [pitch.name.replace("-", "b") for pitch in expected.pitches]
        assert [str(tone) for tone in step.wish.chord.tones.values()] == names


def test_a_melody_moves_as_music21_transposes_it(music21: Any) -> None:
    """Top notes of a diatonic tune in C, moved to every major key, have the names that music21 gives them."""
    tune, chords = "G4 A4 E4 B4 C5", "C | F | Am | G | C"
    for key in (parse_key(f"{tonic} major") for tonic in ("D", "Eb", "E", "F", "G", "Ab", "A", "Bb")):
        text = f'title = "t"\nkey = "C"\n[[passage]]\nchords = "{chords}"\ntop = "{tune}"\nkeys = ["{key}"]'
        tops = [step.wish.top.pitch for step in read_drill(text, "t").steps]
        interval = music21.interval.Interval(
            music21.pitch.Pitch("C"), music21.pitch.Pitch(str(key.tonic).replace("b", "-"))
        )
        theirs = [music21.pitch.Pitch(note).transpose(interval).name.replace("-", "b") for note in tune.split()]
        assert [str(pitch.tone) for pitch in tops if pitch] == theirs
