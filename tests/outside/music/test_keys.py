"""Keys, scales, numerals and chord kinds against music21, in every key."""

from __future__ import annotations

from typing import Any

import pytest

from listener.music.pitch import Tone, parse_tone
from listener.music.quality import qualities
from listener.music.roman import parse_roman
from listener.music.scale import Key, scale_named

MAJOR_TONICS = ("C", "G", "D", "A", "E", "B", "F#", "Gb", "Db", "Ab", "Eb", "Bb", "F")
MINOR_TONICS = ("A", "E", "B", "F#", "C#", "G#", "D#", "Eb", "Bb", "F", "C", "G", "D")
#: Numerals that both read alike; where they differ is listed in test_roman_table.py.
MAJOR_WORDS = """I ii iii IV V vi viio I6 I64 ii6 IV64 V7 V65 V43 V42 ii7 ii65 iii7 vi7 vi42 viio7 viio43 viiø7 viiø65
    V/V V7/V V65/ii V7/vi V7/IV viio7/V viio6/ii viio7/vi iv bVI bVII bIII iio bII6 V+ V/V/V V42/IV"""
MINOR_WORDS = """i iio III iv V v VI VII viio i6 i64 iv6 V7 V65 V43 V42 i7 iv7 iiø7 iiø65 viio7 viio65 viio42 V7/iv V/V
    V65/V V7/III V7/VI viio7/V viio7/iv bII6 III+ V7/VII"""


def _theirs(tone: Tone) -> str:
    return str(tone).replace("b", "-")


def _ours(name: str) -> Tone:
    return parse_tone(name.replace("-", "b"))


@pytest.mark.parametrize(
    ("mode", "tonics", "words"), [("major", MAJOR_TONICS, MAJOR_WORDS), ("minor", MINOR_TONICS, MINOR_WORDS)]
)
def test_numerals_in_every_key(music21: Any, mode: Any, tonics: tuple[str, ...], words: str) -> None:
    """Spelled tones, bass and root of some seventy numerals in 26 keys are those of music21's RomanNumeral."""
    for tonic in tonics:
        key = Key(parse_tone(tonic), mode)
        their_key = music21.key.Key(_theirs(key.tonic), mode)
        for word in words.split():
            chord = parse_roman(word, key)
            numeral = music21.roman.RomanNumeral(word, their_key)
            assert set(chord.tones.values()) == {_ours(pitch.name) for pitch in numeral.pitches}, (str(key), word)
            assert (chord.bass or chord.root) == _ours(numeral.bass().name), (str(key), word)
            assert chord.root == _ours(numeral.root().name), (str(key), word)


@pytest.mark.parametrize(("mode", "tonics"), [("major", MAJOR_TONICS), ("minor", MINOR_TONICS)])
def test_signatures_and_scales(music21: Any, mode: Any, tonics: tuple[str, ...]) -> None:
    """Signatures and the tones of the scales are music21's in 26 keys."""
    scales = {
        "major": {"major": "MajorScale", "lydian": "LydianScale", "mixolydian": "MixolydianScale"},
        "minor": {
            "natural minor": "MinorScale",
            "harmonic minor": "HarmonicMinorScale",
            "dorian": "DorianScale",
            "phrygian": "PhrygianScale",
            "locrian": "LocrianScale",
        },
    }
    for tonic in tonics:
        key = Key(parse_tone(tonic), mode)
        assert key.signature == music21.key.Key(_theirs(key.tonic), mode).sharps
        for name, theirs in scales[mode].items():
            row = getattr(music21.scale, theirs)(_theirs(key.tonic)).getPitches()[:7]
            assert [_ours(pitch.name) for pitch in row] == list(scale_named(key.tonic, name).tones), (tonic, name)


#: music21 knows these kinds but spells or fills them in its own way (see test_symbols.py).
THEIR_OWN = {"Italian", "French", "German"}


def test_chord_kinds_on_every_root(music21: Any) -> None:
    """Every quality with a MusicXML kind has the spelled tones of music21's ChordSymbol on twelve roots."""
    for quality in qualities():
        if quality.musicxml is None or quality.musicxml in THEIR_OWN:
            continue
        for tonic in ("C", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "C#"):
            root = parse_tone(tonic)
            symbol = music21.harmony.ChordSymbol(root=_theirs(root), kind=quality.musicxml)
            assert {_ours(pitch.name) for pitch in symbol.pitches} == {root.at(d) for d in quality.degrees}, (
                tonic,
                quality.name,
            )
