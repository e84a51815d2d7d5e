"""The wording: short, kind, and spelled as a musician would."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.match import compare
from listener.judging.words import note_name, rolled, rolled_words
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch

TEXTS = sorted(
    {
        fault.partition(": ")[2]
        for file in (Path(__file__).parent / "cases").glob("*/*.toml")
        for verdict in tomllib.loads(file.read_text(encoding="utf-8"))["verdict"]
        for fault in verdict.get("faults", ())
    }
)


@pytest.mark.parametrize(
    ("chord", "midi", "name"),
    [
        ("Gb", 59, "Cb4"),  # the fourth of G flat is C flat
        ("F#", 65, "E#4"),  # its leading tone
        ("C", 63, "Eb4"),
        ("C", 68, "G#4"),
        ("Am", 63, "Eb4"),
        ("C7", 61, "Db4"),
        ("D#m", 67, "G4"),
        ("E", 60, "C4"),
        ("C/Bb", 58, "Bb3"),
        ("G13", 63, "Eb4"),
    ],
)
def test_foreign_notes_are_named_as_they_are_heard(chord: str, midi: int, name: str) -> None:
    """Scale tones strictly, the others for easy reading (common practice)."""
    assert note_name(parse_chord(chord), midi) == name


@given(st.sampled_from(["C", "Gb", "F#m7", "Bbmaj9", "E7#9", "Cb", "G#m", "Dbm7b5", "A/C#"]), st.integers(12, 115))
def test_names_mean_the_note(symbol: str, midi: int) -> None:
    """Whatever a note is called, it is that note."""
    assert parse_pitch(note_name(parse_chord(symbol), midi)).midi == midi


def test_wordings_are_short_and_kind() -> None:
    """Four of five fit one line of a narrow panel (38 cells), all fit two, and none of them shames."""
    assert len(TEXTS) > 200
    assert max(map(len, TEXTS)) <= 2 * 38
    assert sum(len(text) <= 38 for text in TEXTS) >= 0.8 * len(TEXTS)
    for word in ("bad", "fail", "poor", "terrible", "sloppy", "stupid", "never", "!", "you"):
        assert not [text for text in TEXTS if word in text.lower().split()], word


def test_what_is_said_can_be_done() -> None:
    """Doing what a spacing fault says gives the planned chord: lift the E an octave, and it is right."""
    fault = compare(parse_chord("C"), (48, 55, 64), (48, 52, 55)).faults[0]
    assert fault.text.endswith("lift the E an octave")
    assert compare(parse_chord("C"), (48, 55, 64), (48, 52 + 12, 55)).grade == "hit"


@pytest.mark.parametrize(
    ("spread_ms", "words"),
    [
        (0.0, "rolled over 0 ms"),
        (84.4, "rolled over 84 ms"),
        (199.9, "rolled over 200 ms"),
        (200.0, "rolled over 0.2 s"),
        (612.3, "rolled over 0.6 s"),
        (2480.0, "rolled over 2.5 s"),
    ],
)
def test_a_roll_is_told_by_its_length(spread_ms: float, words: str) -> None:
    """In milliseconds where tenths of a second would be too coarse; the fault says what the drill wants."""
    assert rolled_words(spread_ms) == words
    fault = rolled(spread_ms)
    assert (fault.code, fault.text, fault.ms) == ("rolled", f"{words}: this drill wants it together", spread_ms)
