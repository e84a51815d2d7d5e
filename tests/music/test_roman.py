"""Roman numerals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.chord import parse_chord
from listener.music.pitch import parse_tone
from listener.music.roman import parse_roman
from listener.music.scale import Key, parse_key

MAJOR_WORDS = "I ii iii IV V vi viio V7 ii65 V43 V42 viio7 V7/ii viio7/V bVII bVI iv N6 Fr43 Vsus4 IVmaj7 V7b9 ii9"
MINOR_WORDS = "i iio III iv V VI VII viio viiø7 vi bVI bVII #vio i6 V65/V V7/VI Ger65 imaj7 III+"
TONICS = ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")


@pytest.mark.parametrize(
    ("key", "text", "symbol"),
    [
        ("G major", "V7/ii", "E7"),
        ("C major", "V/V/V", "A"),
        ("C major", "viio7/V", "F#dim7"),
        ("C major", "viio65/V", "F#dim7/A"),
        ("C major", "V2", "G7/F"),
        ("C major", "IVmaj65", "Fmaj7/A"),
        ("C major", "I7", "C7"),
        ("C major", "Imaj7", "Cmaj7"),
        ("C major", "IΔ", "Cmaj7"),
        ("C major", "I6", "C/E"),
        ("C major", "Iadd6", "C6"),
        ("C major", "I6/9", "C6/9"),
        ("C major", "ii-7", "Dm7"),
        ("C major", "IIm7", "Dm7"),
        ("C major", "ii7b5", "Dm7b5"),
        ("C major", "viiø", "Bm7b5"),
        ("C major", "viiø43", "Bm7b5/F"),
        ("C major", "♭VII", "Bb"),
        ("C major", "#ivø7", "F#m7b5"),
        ("C major", "V7alt", "G7alt"),
        ("C major", "I[add9]", "Cadd9"),
        ("C major", "V+7", "G7#5"),
        ("C major", "N6", "Db/F"),
        ("C major", "Ger65", "AbGer6"),
        ("C major", "Ger65/V", "EbGer6"),
        ("C major", "vii", "Bm"),
        ("Gb major", "IV", "Cb"),
        ("Gb major", "IV64", "Cb/Gb"),
        ("E major", "V65", "B7/D#"),
        ("A minor", "III", "C"),
        ("A minor", "iii", "Cm"),
        ("A minor", "VI", "F"),
        ("A minor", "bVI", "F"),
        ("A minor", "bVII", "G"),
        ("A minor", "viio", "G#dim"),
        ("A minor", "#viio7", "G#dim7"),
        ("A minor", "vi", "F#m"),
        ("A minor", "#viø7", "F#m7b5"),
        ("A minor", "V7/VI", "C7"),
        ("A minor", "V65/V", "B7/D#"),
        ("A minor", "imaj7", "Am(maj7)"),
        ("A minor", "i/iv", "Dm"),
    ],
)
def test_numerals(key: str, text: str, symbol: str) -> None:
    """Numerals as the docstring of the module says they are read (textbook usage, and ours where usages differ)."""
    assert parse_roman(text, parse_key(key)) == parse_chord(symbol)


@given(st.sampled_from(TONICS), st.sampled_from(MAJOR_WORDS.split()))
def test_every_major_key_reads_alike(tonic: str, text: str) -> None:
    """A numeral in any major key is the chord of C major carried there."""
    home = parse_roman(text, parse_key("C major"))
    moved = parse_roman(text, Key(parse_tone(tonic), "major"))
    shift = parse_tone(tonic).pitch_class
    assert moved.quality == home.quality
    assert moved.pitch_classes == {(pitch_class + shift) % 12 for pitch_class in home.pitch_classes}


@given(st.sampled_from(TONICS), st.sampled_from(MINOR_WORDS.split()))
def test_every_minor_key_reads_alike(tonic: str, text: str) -> None:
    """The same in minor; the inversion travels along."""
    home = parse_roman(text, parse_key("A minor"))
    moved = parse_roman(text, Key(parse_tone(tonic), "minor"))
    shift = parse_tone(tonic).pitch_class - 9
    assert moved.quality == home.quality
    assert (moved.bass is None) == (home.bass is None)
    if moved.bass and home.bass:
        assert (moved.bass.pitch_class - home.bass.pitch_class - shift) % 12 == 0
        assert moved.bass in moved.tones.values()


@pytest.mark.parametrize(
    ("text", "position", "part"),
    [
        ("", 0, "missing"),
        ("X", 0, "numeral"),
        ("Vi", 0, "one case"),
        ("IIII", 0, "one case"),
        ("V8", 1, "suffix"),
        ("V7/", 3, "after a slash"),
        ("I/3", 2, "after a slash"),
        ("V7/V7", 4, "no figures"),
        ("VIIo", 0, "lower case"),
        ("i+", 0, "upper case"),
        ("V7b5#11", 1, "twice"),
        ("V/x/V", 2, "after a slash"),
        ("/V", 0, "missing"),
        ("Imaj64", 5, "suffix"),
    ],
)
def test_what_cannot_be_read_says_where(text: str, position: int, part: str) -> None:
    """A bad numeral is refused with the place and the reason, in one line."""
    with pytest.raises(MusicError, match=part) as caught:
        parse_roman(text, parse_key("C major"))
    assert caught.value.position == position
    assert "\n" not in str(caught.value)
    assert f"character {position + 1}" in str(caught.value)
