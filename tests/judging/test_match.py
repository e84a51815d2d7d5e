"""Comparing heard notes with planned ones."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.judging.match import compare, grade
from listener.judging.verdict import GRADES, HIT, MISS, NEAR
from listener.music.chord import parse_chord


def test_silence_is_said_so() -> None:
    """Nothing heard is a miss with one fault, whatever was planned."""
    comparison = compare(parse_chord("C"), (48, 55, 64), ())
    assert comparison.grade == MISS
    assert [(fault.code, fault.text) for fault in comparison.faults] == [("nothing", "nothing was heard")]


def test_unisons_count_once() -> None:
    """Two strings on one pitch are one note, planned or heard."""
    em = parse_chord("Em")
    assert compare(em, (52, 59, 64, 64), (52, 59, 64)).grade == HIT
    assert compare(em, (52, 59, 64), (52, 59, 64, 64)).grade == HIT
    assert compare(em, (52, 59, 64, 64), (52, 59)).grade == NEAR


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


@given(voicing_sets, any_notes)
def test_the_grade_alone_is_the_same_grade(planned: tuple[int, ...], heard: tuple[int, ...]) -> None:
    """Asking for the grade without reasons gives the grade with reasons."""
    assert grade(planned, heard) == compare(CHORD, planned, heard).grade


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
