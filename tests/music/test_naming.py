"""Naming what sounds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.naming import best_name, name_pitches, spell_root
from listener.music.pitch import parse_tone
from listener.music.quality import Quality, qualities, quality_named
from listener.music.voicing import ANY, CLOSE, tone_sets, voicings

ROOTS = st.sampled_from(("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"))
NAMED = st.sampled_from([quality for quality in qualities() if quality.rarity is not None])
NOTES = st.lists(st.integers(36, 80), max_size=7)


@pytest.mark.parametrize(
    ("notes", "chord", "kind", "inversion"),
    [
        ((55, 64, 72), "C", "spread", 2),
        ((48, 52, 55, 57), "C6", "close", 0),
        ((45, 48, 52, 55), "Am7", "close", 0),
        ((48, 51, 55, 57), "Cm6", "close", 0),
        ((45, 48, 51, 55), "Am7b5", "close", 0),
        ((48, 52, 57), "Am", "close", 1),
        ((48, 53, 55), "Csus4", "close", 0),
        ((48, 50, 55), "Csus2", "close", 0),
        ((48, 51, 54, 57), "Cdim7", "close", 0),
        ((54, 57, 60, 63), "F#dim7", "close", 0),
        ((48, 52, 56), "Caug", "close", 0),
        ((56, 60, 64), "Abaug", "close", 0),
        ((48, 58, 64), "C7", "shell", 0),
        ((48, 58, 64, 69), "C13", "drop 3", 0),
        ((43, 53, 60, 62), "G7sus4", "drop 3", 0),
        ((50, 60, 64, 67, 71), "D13sus4", "other", 0),
        ((42, 60, 64, 67), "C/F#", "close", None),
        ((46, 53, 62), "Bb", "spread", 0),
        ((58, 61, 64, 67), "Bbdim7", "close", 0),
        ((42, 49, 58), "F#", "spread", 0),
        ((49, 56, 65), "Db", "spread", 0),
        ((49, 56, 64), "C#m", "spread", 0),
        ((40, 47, 52, 56, 59, 64), "E", "full", 0),
        ((43, 50), "G5", "close", 0),
        ((50, 55), "G5", "close", 1),
        ((48, 58, 63, 65), "Cm11", "drop 3", 0),
        ((48, 53, 58, 63), "Cm11", "drop 2", 0),
        ((53, 58, 60, 63), "F7sus4", "close", 0),
        ((48, 52, 54, 59), "Cmaj7#11", "close", 0),
        ((49, 53, 55, 60), "Dbmaj7#11", "close", 0),
        ((48, 52, 54, 58), "C7b5", "close", 0),
        ((49, 53, 56, 60), "Dbmaj7", "close", 0),
        ((48, 52, 58, 64, 69), "C13", "full", 0),
    ],
)
def test_best_names(notes: tuple[int, ...], chord: str, kind: str, inversion: int | None) -> None:
    """The first reading is what a guitarist would say (common practice); the root in the bass decides between twins."""
    best = name_pitches(notes)[0].voicing
    assert (best.chord.symbol, best.kind, best.inversion) == (chord, kind, inversion)


def test_roots_are_spelled_for_a_usual_key() -> None:
    """Major chords stand on D flat and A flat, whatever becomes of their fifth; a chord of a sharp key keeps its sharp
    (common practice)."""
    for name in ("major", "major seventh", "major flat fifth", "major seventh flat five", "sixth", "augmented"):
        assert str(spell_root(1, quality_named(name))) == "Db", name
        assert str(spell_root(8, quality_named(name))) == "Ab", name
    for name in ("minor", "minor seventh", "half-diminished", "diminished", "seventh flat nine"):
        assert str(spell_root(1, quality_named(name))) == "C#", name
        assert str(spell_root(8, quality_named(name))) == "G#", name
    assert str(spell_root(8, quality_named("dominant seventh flat five"))) == "Ab"


def test_the_eleventh_of_a_thirteenth_is_not_missed() -> None:
    """Nobody plays it, so nobody is told that it is missing; nor is one of several alterations."""
    thirteenth = name_pitches((48, 58, 64, 69))[0]
    assert (thirteenth.chord.symbol, thirteenth.missing) == ("C13", ("5", "9"))
    altered = [naming for naming in name_pitches((48, 52, 56, 58, 63)) if naming.chord.symbol == "C7alt"]
    assert [naming.missing for naming in altered] == [()]


def test_other_than_the_altered_scale_is_not_altered() -> None:
    """C7alt is among the readings where an alteration sounds, and only there."""
    assert "C7alt" not in [naming.chord.symbol for naming in name_pitches((48, 52, 58))]


@given(ROOTS, NAMED)
def test_complete_chords_in_root_position_are_found(root: str, quality: Quality) -> None:
    """A complete close chord over its root is among the readings, and only a plainer chord comes before it."""
    chord = Chord(parse_tone(root), quality)
    size = max(len(tones) for tones in tone_sets(chord))
    notes = next(iter(voicings(chord, CLOSE, low=48, high=80, inversion=0, size=size)))
    found = name_pitches(notes)
    match = [
        naming
        for naming in found
        if (naming.voicing.chord.root.pitch_class, naming.voicing.chord.quality) == (chord.root.pitch_class, quality)
    ]
    assert len(match) == 1
    assert match[0].voicing.inversion == 0
    assert match[0].missing == ()
    assert found[0].cost <= match[0].cost


@given(ROOTS, st.sampled_from(["major", "minor", "dominant seventh", "major seventh", "minor seventh"]))
def test_plain_chords_are_named_in_every_voicing(root: str, name: str) -> None:
    """Whatever its spacing and inversion, a complete major, minor or seventh chord gets its own name first, but for a
    minor seventh over its third, which is the sixth chord there."""
    chord = Chord(parse_tone(root), quality_named(name))
    for notes in voicings(chord, ANY, low=44, high=66, size=len(chord.quality.degrees)):
        best = name_pitches(notes)[0].voicing
        if name == "minor seventh" and best.chord.root.pitch_class != chord.root.pitch_class:
            assert best.chord.quality.name == "sixth"
            assert notes[0] % 12 == chord.tones["b3"].pitch_class
        else:
            assert (best.chord.root.pitch_class, best.chord.quality) == (chord.root.pitch_class, chord.quality)


@given(NOTES)
def test_readings_are_true(notes: list[int]) -> None:
    """Each reading covers every note, lacks only optional tones, and costs no less than the one before."""
    found = name_pitches(notes)
    assert [naming.cost for naming in found] == sorted(naming.cost for naming in found)
    for naming in found:
        voicing = naming.voicing
        assert voicing.midi == tuple(sorted(notes))
        assert {note % 12 for note in notes} <= voicing.chord.pitch_classes
        assert set(naming.missing) <= set(voicing.chord.quality.optional)
        assert (voicing.inversion is None) == (voicing.chord.bass is not None)
    chords = [(naming.voicing.chord) for naming in found]
    assert len(set(chords)) == len(chords)


@given(NOTES)
def test_the_best_name_alone_is_the_first_of_all(notes: list[int]) -> None:
    """Asked for alone, the best reading is what stands first among all of them, or None where there are none."""
    found = name_pitches(notes)
    assert best_name(tuple(sorted(notes))) == (found[0] if found else None)


@given(NOTES, st.integers(-12, 12))
def test_names_travel(notes: list[int], semitones: int) -> None:
    """Transposed notes have the transposed readings at the same costs."""
    here = name_pitches(notes)
    there = name_pitches([note + semitones for note in notes])

    def heard(found: tuple, shift: int) -> set[tuple[object, ...]]:  # type: ignore[type-arg]
        return {
            ((n.voicing.chord.root.pitch_class - shift) % 12, n.voicing.chord.quality, n.voicing.kind, n.cost)
            for n in found
            if n.cost < found[-1].cost or len(found) < 8
        }

    assert heard(here, 0) == heard(there, semitones)


@pytest.mark.parametrize("notes", [(), (60,), (48, 60), (48, 52), (48, 49, 50)])
def test_no_name(notes: tuple[int, ...]) -> None:
    """Nothing, one tone, an interval that is no fifth, and a cluster get no name."""
    assert name_pitches(notes) == ()


def test_order_and_unisons_do_not_matter() -> None:
    """Notes may come in any order, and a unison on two strings is a doubled tone."""
    assert name_pitches([72, 55, 64]) == name_pitches([55, 64, 72])
    assert name_pitches([55, 64, 64, 72])[0].voicing.kind == "full"


def test_json() -> None:
    """The fields of the contract, with the spelled pitches beside them."""
    assert name_pitches([55, 64, 72])[0].as_json() == {
        "chord": "C",
        "kind": "spread",
        "inversion": 2,
        "degrees": ["5", "3", "1"],
        "span": 17,
        "names": ["G3", "E4", "C5"],
    }


def test_spelling_on_request() -> None:
    """Black keys are spelled as asked; else B flat, never A sharp, and the fewer accidentals."""
    assert name_pitches([54, 58, 61], flats=True)[0].voicing.names == ("Gb3", "Bb3", "Db4")
    assert name_pitches([49, 53, 56], flats=False)[0].voicing.names == ("C#3", "E#3", "G#3")
    for quality in qualities():
        assert str(spell_root(10, quality)) == "Bb"
    assert name_pitches([50, 61, 64, 69])[0].voicing.chord.symbol == "A/D"
    assert name_pitches([46, 50, 57, 62, 66])[-1].voicing.chord.root.letter in "ABCDEFG"


@pytest.mark.parametrize("notes", [(-1, 4, 7), (60, 64, 128)])
def test_notes_outside_midi(notes: tuple[int, ...]) -> None:
    """MIDI notes run from 0 to 127."""
    with pytest.raises(MusicError, match="0 to 127"):
        name_pitches(notes)
    with pytest.raises(MusicError, match="0 to 127"):
        best_name(notes)
