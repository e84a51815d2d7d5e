"""Comparing heard notes with planned ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.match import compare
from listener.judging.verdict import GRADES, HIT, MISS, NEAR
from listener.music.chord import parse_chord

#: chord, planned, heard, grade, (code, text) of each fault. Worked out by hand at the neck.
CASES = {
    "as planned": ("C", (48, 55, 64), (48, 55, 64), HIT, []),
    "closed up": ("C", (48, 55, 64), (48, 52, 55), NEAR, [("spacing", "right chord, but close: lift the E an octave")]),
    "a drop 2 seventh closed up": (
        "Cmaj7", (55, 60, 64, 71), (60, 64, 67, 71), NEAR,
        [("spacing", "right chord, but close: drop the G an octave")],
    ),
    "spread where close was meant": (
        "C", (48, 52, 55), (48, 55, 64), NEAR, [("spacing", "right chord, but spread: drop the E an octave")],
    ),
    "top note changed": ("C", (48, 55, 64), (48, 55, 65), NEAR, [("top_note", "top note is F4, the plan says E4")]),
    "top note to another chord tone": (
        "C", (48, 55, 64), (48, 55, 60), NEAR, [("top_note", "top note is C4, the plan says E4")],
    ),
    "top tone dropped and another chord tone added far below": (
        "C", (48, 55, 64), (43, 48, 55), MISS,
        [("missing", "the 3rd (E4) on top is missing"), ("extra", "G2 is one note too many")],
    ),
    "inner tone wrong": ("C", (48, 55, 64), (48, 56, 64), NEAR, [("wrong_tone", "G#3 should be the 5th (G3)")]),
    "bass wrong": ("Am7", (45, 55, 60, 64), (46, 55, 60, 64), NEAR, [("wrong_tone", "A#2 should be the root (A2)")]),
    "third missing": ("C", (48, 55, 64), (48, 55), NEAR, [("missing", "the 3rd (E4) on top is missing")]),
    "fifth missing": ("C", (48, 55, 64), (48, 64), NEAR, [("missing", "the 5th (G3) is missing")]),
    "two tones missing": (
        "C", (48, 55, 64), (48,), MISS,
        [("missing", "the 3rd (E4) on top is missing"), ("missing", "the 5th (G3) is missing")],
    ),
    "one too many": ("C", (48, 55, 64), (48, 55, 60, 64), NEAR, [("extra", "C4 is one note too many")]),
    "one too many on top": ("C", (48, 55, 64), (48, 55, 64, 67), NEAR, [("extra", "G4 on top is one note too many")]),
    "an octave low": ("C", (55, 64, 72), (43, 52, 60), NEAR, [("octave", "an octave low")]),
    "two octaves high": ("C", (48, 55, 64), (72, 79, 88), NEAR, [("octave", "two octaves high")]),
    "first inversion instead of root position": (
        "C", (48, 55, 64), (52, 60, 67), NEAR,
        [
            ("inversion", "right chord, but in first inversion: the plan has root position, C in the bass"),
            ("top_note", "top note is G4, the plan says E4"),
        ],
    ),
    "one voice in the wrong octave": (
        "C/G", (43, 60, 64, 67), (43, 60, 67, 76), NEAR,
        [("wrong_octave", "the E is in the wrong octave: drop the E an octave")],
    ),
    "another chord altogether": (
        "C", (48, 55, 64), (53, 60, 69), MISS, [("other_chord", "that was F, the plan says C")],
    ),
    "silence": ("C", (48, 55, 64), (), MISS, [("nothing", "nothing was heard")]),
    "flats are spelled as flats": (
        "Eb", (51, 58, 67), (51, 58, 68), NEAR, [("top_note", "top note is Ab4, the plan says G4")],
    ),
    "seventh flattened by mistake": (
        "Cmaj7", (48, 55, 59, 64), (48, 55, 58, 64), NEAR, [("wrong_tone", "A#3 should be the 7th (B3)")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("story", CASES)
def test_what_a_teacher_would_say(story: str) -> None:
    """Grade and words for each kind of slip."""
    symbol, planned, heard, grade, faults = CASES[story]
    comparison = compare(parse_chord(symbol), planned, heard)
    assert comparison.grade == grade
    said = [(fault.code, fault.text) for fault in comparison.faults]
    assert said[: len(faults)] == faults
    if grade != MISS:
        assert len(said) == len(faults)


CHORD = parse_chord("G7")
TONES = [note for note in range(40, 80) if CHORD.degree_of(note) is not None]
voicing_sets = st.sets(st.sampled_from(TONES), min_size=3, max_size=5).map(lambda notes: tuple(sorted(notes)))
any_notes = st.sets(st.integers(36, 84), max_size=6).map(lambda notes: tuple(sorted(notes)))


@given(voicing_sets, any_notes)
def test_only_the_planned_notes_are_a_hit(planned: tuple[int, ...], heard: tuple[int, ...]) -> None:
    """A hit means exactly the planned pitches, and everything else names at least one fault."""
    comparison = compare(CHORD, planned, heard)
    assert (comparison.grade == HIT) == (planned == heard)
    assert (comparison.grade == HIT) == (not comparison.faults)
    assert all(fault.text for fault in comparison.faults)


@given(voicing_sets, any_notes, st.integers(36, 84))
def test_a_wrong_tone_never_helps(planned: tuple[int, ...], heard: tuple[int, ...], more: int) -> None:
    """Adding a note that is no tone of the chord never improves the grade."""
    if CHORD.degree_of(more) is not None or more in heard or not heard:
        return
    before = compare(CHORD, planned, heard).grade
    after = compare(CHORD, planned, tuple(sorted({*heard, more}))).grade
    assert GRADES.index(after) >= GRADES.index(before)


@given(voicing_sets, any_notes, st.integers(-11, 11))
def test_transposing_both_changes_nothing(planned: tuple[int, ...], heard: tuple[int, ...], shift: int) -> None:
    """Plan and take in another key: same grade, same kinds of fault."""
    from listener.music.pitch import spell

    moved = CHORD.transposed(spell(60 + (CHORD.root.pitch_class + shift) % 12).tone)
    here = compare(CHORD, planned, heard)
    there = compare(moved, tuple(note + shift for note in planned), tuple(note + shift for note in heard))
    assert (here.grade, [fault.code for fault in here.faults]) == (there.grade, [fault.code for fault in there.faults])
