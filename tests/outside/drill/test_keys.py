"""Passages in other keys and diatonic cycles against music21."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from listener.data import data_folder
from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.drill.reading.keys import round_of_keys
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.pitch import parse_tone
from listener.music.roman import parse_roman
from listener.music.scale import Key, parse_key, usual_tonic
from listener.planning.planner import plan_drill

STEPS = {"seconds": 1, "thirds": 2, "fourths": 3, "fifths": 4, "sixths": 5, "sevenths": 6}
NUMERALS = ("I", "ii", "iii", "IV", "V", "vi", "viio")


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


def numerals_of_the_course() -> list[tuple[str, str, str]]:
    """Drill, key and numeral for every Roman numeral that a drill of the course uses."""
    found: dict[tuple[str, str, str], None] = {}
    for name in bundled_drills():
        drill = tomllib.loads(load_drill(name).text)
        for passage in drill["passage"]:
            keys = [passage.get("key", drill["key"])]
            if isinstance(passage.get("keys"), list):
                keys += passage["keys"]
            texts = [part.get("numerals", "") for part in (passage, passage.get("quiet", {}), passage.get("loud", {}))]
            words = " ".join(texts).replace("|", " ").split()
            found |= {(name, key, word): None for key in keys for word in words if word not in (".", "%")}
    return list(found)


def test_the_numerals_of_the_course(music21: Any) -> None:
    """Every numeral that a drill uses means in its key what music21 reads in it, spelled alike."""
    asked = numerals_of_the_course()
    assert len({name for name, _, _ in asked}) >= 18
    for name, key, word in asked:
        tonic, mode = key.split()
        theirs = music21.roman.RomanNumeral(
            word.replace("maj7", "7"),
            music21.key.Key(tonic.replace("b", "-"), mode),  # I7 is its major seventh
        )
        ours = parse_roman(word, parse_key(key)).tones.values()
        names = [pitch.name.replace("-", "b") for pitch in theirs.pitches]
        assert sorted(map(str, ours)) == sorted(names), f"{name}: {word} in {key}"


@pytest.mark.parametrize(
    ("name", "passage", "key"),
    [
        ("evening-at-the-weir", "evening at the weir", "D major"),
        ("the-ropewalk", "verse", "d minor"),
        ("the-ropewalk", "chorus", "F major"),
        ("barn-waltz", "first part", "A major"),
        ("winter-well", "at the well", "e minor"),
        ("four-oars", "out", "A major"),
        ("canal-gates", "three locks, in D minor", "d minor"),
    ],
)
def test_the_planned_notes_are_in_the_key(music21: Any, name: str, passage: str, key: str) -> None:
    """music21's key finder (Krumhansl and Schmuckler's method) hears the written key in the planned notes."""
    steps = [
        one for one in plan_drill(load_drill(name), make_instrument(), make_hand()).steps if one.step.passage == passage
    ]
    assert steps
    stream = music21.stream.Stream()
    for one in steps:
        stream.append(music21.chord.Chord(list(one.voicing.midi), quarterLength=one.step.length_beats))
    assert str(stream.analyze("key")) == key


def test_the_tune_of_the_first_piece(music21: Any) -> None:
    """Evening at the weir as music21 reads its file: 32 full bars of four, all but one note in D major, an octave."""
    tune = music21.converter.parse(data_folder("drills") / "evening-at-the-weir.musicxml").parts[0]
    bars = list(tune.getElementsByClass("Measure"))
    assert [bar.duration.quarterLength for bar in bars] == [4.0] * 32
    notes = list(tune.flatten().notes)
    scale = {pitch.pitchClass for pitch in music21.scale.MajorScale("D").pitches}
    assert [note.name for note in notes if note.pitch.pitchClass not in scale] == ["G#"]
    assert max(note.pitch.midi for note in notes) - min(note.pitch.midi for note in notes) == 12
    assert notes[-1].name == "D"
    planned = plan_drill(load_drill("evening-at-the-weir"), make_instrument(), make_hand()).steps
    assert [one.voicing.midi[-1] for one in planned] == [note.pitch.midi for note in notes]
