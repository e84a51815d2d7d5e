"""Spelled pitches."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.pitch import (
    Tone,
    degree_semitones,
    frequency_hz,
    parse_degree,
    parse_pitch,
    parse_tone,
    spell,
)

TONES = st.builds(Tone, st.sampled_from("CDEFGAB"), st.integers(-2, 2))
DEGREES = st.builds(lambda sign, number: f"{sign}{number}", st.sampled_from(["", "b", "#"]), st.integers(1, 13))


@pytest.mark.parametrize(
    ("text", "midi"), [("C4", 60), ("A4", 69), ("Cb4", 59), ("B#3", 60), ("E2", 40), ("C-1", 0), ("G9", 127)]
)
def test_octaves_belong_to_the_letter(text: str, midi: int) -> None:
    """C4 is 60, A4 is 69, and C flat 4 lies below C4 (scientific pitch notation)."""
    pitch = parse_pitch(text)
    assert pitch.midi == midi
    assert str(pitch) == text


@given(TONES, st.integers(12, 110))
def test_a_tone_at_a_height_keeps_name_and_pitch_class(tone: Tone, low: int) -> None:
    """The pitch of a tone at or above a note has the tone's name and lies within an octave."""
    pitch = tone.above(low)
    assert pitch.tone == tone
    assert low <= pitch.midi < low + 12
    assert pitch.midi % 12 == tone.pitch_class


@given(TONES, DEGREES)
def test_degrees_are_spelled_where_they_sound(root: Tone, degree: str) -> None:
    """A tone at a degree has the right letter and the right distance."""
    number, _ = parse_degree(degree)
    tone = root.at(degree)
    assert ("CDEFGAB".index(tone.letter) - "CDEFGAB".index(root.letter)) % 7 == (number - 1) % 7
    assert (tone.pitch_class - root.pitch_class - degree_semitones(degree)) % 12 == 0


@given(TONES)
def test_tones_read_back(tone: Tone) -> None:
    """What a tone prints, the reader understands."""
    assert parse_tone(str(tone)) == tone


@given(st.integers(0, 127), st.booleans())
def test_plain_spelling(midi: int, flats: bool) -> None:
    """Every MIDI note has a plain name with the right number and at most one sign of the wanted sort."""
    pitch = spell(midi, flats=flats)
    assert pitch.midi == midi
    assert pitch.alteration in ((0, -1) if flats else (0, 1))


def test_frequency() -> None:
    """A4 is 440 Hz and an octave doubles (ISO 16:1975)."""
    assert frequency_hz(69) == 440.0
    assert frequency_hz(81) == 880.0
    assert frequency_hz(60) == pytest.approx(261.625565, abs=1e-6)


@pytest.mark.parametrize("text", ["", "H4", "C", "4", "C44x", "C10", "Cb-1", "A9", "E 4 4"])
def test_bad_pitches(text: str) -> None:
    """What is no pitch, or none of MIDI's, is refused."""
    with pytest.raises(MusicError):
        parse_pitch(text)


@pytest.mark.parametrize("midi", [-1, 128])
def test_bad_numbers(midi: int) -> None:
    """MIDI notes run from 0 to 127."""
    with pytest.raises(MusicError, match="0 to 127"):
        spell(midi)
