"""Keys and scales."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.pitch import parse_tone
from listener.music.scale import Key, parse_key, parse_scale, scale_named, scale_names

TONICS = ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")


@pytest.mark.parametrize(
    ("text", "tones"),
    [
        ("Gb major", "Gb Ab Bb Cb Db Eb F"),
        ("A harmonic minor", "A B C D E F G#"),
        ("A melodic minor", "A B C D E F# G#"),
        ("D dorian", "D E F G A B C"),
        ("F lydian", "F G A B C D E"),
        ("B locrian", "B C D E F G A"),
        ("C minor pentatonic", "C Eb F G Bb"),
        ("C blues", "C Eb F Gb G Bb"),
        ("G Major Pentatonic", "G A B D E"),
        ("C whole tone", "C D E F# G# Bb"),
        ("Am", "A B C D E F G"),
        ("Eb", "Eb F G Ab Bb C D"),
        ("F# minor", "F# G# A B C# D E"),
    ],
)
def test_scales_are_spelled(text: str, tones: str) -> None:
    """Scales have the tones that textbooks give them, each letter as it should be (common practice)."""
    assert " ".join(map(str, parse_scale(text).tones)) == tones


def test_signatures() -> None:
    """Fifteen major keys and their relative minors carry seven flats to seven sharps (circle of fifths)."""
    majors = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#"
    minors = "Ab Eb Bb F C G D A E B F# C# G# D# A#"
    assert [parse_key(f"{tonic} major").signature for tonic in majors.split()] == list(range(-7, 8))
    assert [parse_key(f"{tonic}m").signature for tonic in minors.split()] == list(range(-7, 8))


@given(st.sampled_from(TONICS), st.sampled_from(["major", "minor"]))
def test_signature_counts_the_accidentals(tonic: str, mode: str) -> None:
    """The signature is the sum of the alterations of the key's seven tones, and every letter occurs once."""
    key = parse_key(f"{tonic} {mode}")
    assert sum(tone.alteration for tone in key.tones) == key.signature
    assert sorted(tone.letter for tone in key.tones) == list("ABCDEFG")
    assert parse_key(str(key)) == key


def test_modes_share_the_tones_of_their_major_scale() -> None:
    """The seven modes on the steps of C major all have the white keys."""
    names = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
    for tonic, name in zip("CDEFGAB", names, strict=True):
        assert parse_scale(f"{tonic} {name}").pitch_classes == parse_scale("C major").pitch_classes


def test_diminished_scales_alternate() -> None:
    """Whole-half and half-whole diminished alternate steps of 2 and 1; the whole-tone scale has six of 2."""
    for name, steps in (
        ("diminished whole-half", [2, 1] * 4),
        ("diminished half-whole", [1, 2] * 4),
        ("whole tone", [2] * 6),
    ):
        classes = [tone.pitch_class for tone in scale_named(parse_tone("C"), name).tones] + [12]
        assert [b - a for a, b in pairwise(classes)] == steps


@pytest.mark.parametrize(
    ("scale", "size", "symbols"),
    [
        ("C major", 3, "C Dm Em F G Am Bdim"),
        ("C major", 4, "Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5"),
        ("C major", 5, "Cmaj9 Dm9 Em7b9 Fmaj9 G9 Am9 Bm7b5b9"),
        ("A harmonic minor", 4, "Am(maj7) Bm7b5 Cmaj7#5 Dm7 E7 Fmaj7 G#dim7"),
        ("A melodic minor", 4, "Am(maj7) Bm7 Cmaj7#5 D7 E7 F#m7b5 G#m7b5"),
        ("Gb major", 3, "Gb Abm Bbm Cb Db Ebm Fdim"),
        ("F lydian", 6, "Fmaj9#11 G11 Am11 Bm11b5b9 Cmaj11 Dm11 Em11b9"),
    ],
)
def test_chords_on_the_steps(scale: str, size: int, symbols: str) -> None:
    """Chords in thirds from the scale's own tones (textbook rows for triads and sevenths)."""
    found = parse_scale(scale)
    assert [found.chord_on(step, size).symbol for step in range(1, 8)] == symbols.split()
    assert found.chord_on(9, size) == found.chord_on(2, size)


@given(
    st.sampled_from(TONICS),
    st.sampled_from(["major", "harmonic minor", "melodic minor", "phrygian", "locrian"]),
    st.integers(1, 7),
    st.integers(3, 7),
)
def test_chords_stay_in_the_scale(tonic: str, name: str, step: int, size: int) -> None:
    """A stacked chord has as many tones as asked for, all of them spelled as in the scale."""
    scale = scale_named(parse_tone(tonic), name)
    chord = scale.chord_on(step, size)
    assert len(chord.tones) == size
    assert set(chord.tones.values()) <= set(scale.tones)


@given(st.sampled_from(TONICS), st.sampled_from(scale_names()), st.integers(30, 60))
def test_pitches_of_a_scale(tonic: str, name: str, low: int) -> None:
    """Over an octave a scale has each of its tones once, spelled, low to high."""
    scale = scale_named(parse_tone(tonic), name)
    pitches = scale.pitches(low, low + 11)
    assert [pitch.midi for pitch in pitches] == sorted(pitch.midi for pitch in pitches)
    assert sorted(map(str, (pitch.tone for pitch in pitches))) == sorted(map(str, scale.tones))
    assert parse_scale(str(scale)) == scale


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "tonic"),
        ("H major", "tonic"),
        ("g", "major or minor"),
        ("D dorian", "not 'dorian'"),
        ("C majr", "not 'majr'"),
        ("C major x", "not 'major x'"),
    ],
)
def test_bad_keys(text: str, part: str) -> None:
    """What is no key is refused with the reason."""
    with pytest.raises(MusicError, match=part):
        parse_key(text)


def test_bad_scales() -> None:
    """Unknown scales list those there are and say where; chords need seven tones, a real step and a real size."""
    with pytest.raises(MusicError, match=r"'C majorr'.*harmonic minor") as caught:
        parse_scale("C majorr")
    assert caught.value.position == 2
    with pytest.raises(MusicError, match="seven"):
        parse_scale("C blues").chord_on(1)
    with pytest.raises(MusicError, match="count from 1"):
        parse_scale("C").chord_on(0)
    with pytest.raises(MusicError, match="3 to 7"):
        parse_scale("C").chord_on(1, 2)


def test_lower_case_with_a_word() -> None:
    """``bb minor`` is B flat minor; only a lower-case tonic alone is refused."""
    assert parse_key("bb minor") == Key(parse_tone("Bb"), "minor")
    assert parse_key(" e m ").signature == 1
