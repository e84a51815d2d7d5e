"""The field ``notes``: the very notes of a chord, on their strings where these are named."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import Drill
from listener.drill.drill_file import read_drill
from listener.drill.reading.fixed_notes import FixedNotes, fixed_notes
from listener.drill.transposing import Move
from listener.errors import DrillError, MusicError, PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import UNNAMED, unnamed_chord
from listener.music.pitch import parse_tone, spell
from listener.music.scale import parse_key
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill


def drill(passage: str) -> Drill:
    return read_drill(f'title = "x"\nkey = "C major"\n[[passage]]\n{passage}', "x")


def plan(passage: str, tuning: str = "standard") -> Plan:
    return plan_drill(drill(passage), make_instrument(tuning), make_hand())


def test_notes_lie_where_they_are_said_to() -> None:
    """Pitches and strings of every chord, over every time through; "any" leaves a chord to the planner."""
    found = plan('chords = "C | G | F"\nnotes = ["C3(5) E3(4) G3(3) C4(2) E4(1)", "D3 G2(6) B2(5)", "any"]\ntimes = 2')
    shapes = [(step.fingering.strings, step.voicing.names) for step in found.steps]
    assert shapes[0] == ((5, 4, 3, 2, 1), ("C3", "E3", "G3", "C4", "E4"))
    assert shapes[1] == ((6, 5, 4), ("G2", "B2", "D3"))
    assert shapes[3:5] == shapes[:2]
    assert set(found.steps[2].voicing.midi) != set(found.steps[0].voicing.midi)


def test_the_same_pitches_elsewhere_when_the_strings_are_elsewhere() -> None:
    """E4 is open on string 1, at fret 5 on string 2, at fret 9 on string 3."""
    for string, fret in ((1, 0), (2, 5), (3, 9)):
        shape = plan(f'chords = "E5"\nnotes = ["E4({string})"]').steps[0].fingering
        assert (shape.strings, shape.frets) == ((string,), (fret,))


def test_high_places_are_allowed_when_they_are_named() -> None:
    """Above the fret where the planner usually stops."""
    assert plan('chords = "C"\nnotes = ["C6(1)"]').steps[0].fingering.frets == (20,)
    assert plan('chords = "C"\nnotes = ["C5(3)"]').steps[0].fingering.frets == (17,)  # also at fret 8 of string 1


def test_one_pitch_on_two_strings() -> None:
    """A unison, as twelve-string players love it."""
    shape = plan('chords = "E5"\nnotes = ["E4(1) E4(2)"]').steps[0].fingering
    assert set(zip(shape.strings, shape.frets, strict=True)) == {(1, 0), (2, 5)}


def test_notes_need_not_belong_to_the_chord() -> None:
    """They keep the names that they are written with."""
    (step,) = plan('chords = "C"\nnotes = ["C3(5) E3(4) Ab3(3) Db4(2)"]').steps
    assert step.voicing.names == ("C3", "E3", "Ab3", "Db4")


def test_a_chord_without_a_name() -> None:
    """It is called '?' wherever it is shown, and moves through the keys with its notes."""
    found = plan('chords = "? | C"\nnotes = ["C3 F#3 G3", "any"]\nkeys = ["C", "D"]')
    assert [str(step.voicing.chord) for step in found.steps] == [UNNAMED, "C", UNNAMED, "D"]
    assert [step.voicing.names for step in found.steps[::2]] == [("C3", "F#3", "G3"), ("D3", "G#3", "A3")]
    assert found.steps[0].as_json()["chord"] == UNNAMED
    assert unnamed_chord([parse_tone("C"), parse_tone("Gb")]).symbol == UNNAMED


def test_in_another_key_strings_are_looked_for_anew() -> None:
    """Open strings stay behind."""
    (step,) = drill('chords = "C"\nnotes = ["C3(5) E3(4) G3(3)"]').steps
    moved = Move(parse_key("C major"), parse_key("D major"), 2).wish(step.wish)
    assert (moved.exact, moved.exact_strings) == ((50, 54, 57), (None, None, None))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ('notes = "C3 E3"', "line 5: 'notes' must be a list with an entry for each chord, such as "),
        ("notes = []", "'notes' must be a list with an entry for each chord"),
        ('notes = ["C3 E3"]', "line 5: 'notes' has 1 entry for 2 chords; give one for each chord, 'any' where"),
        ('notes = ["any", "any", "any"]', "'notes' has 3 entries for 2 chords"),
        ('notes = ["C3 H3", "any"]', "line 5: 'notes', entry 1: 'H3' is not a pitch"),
        ('notes = ["any", 7]', "'notes', entry 2: an entry is a text such as 'G2(6) B2(5)', not 7"),
        ('notes = ["", "any"]', "'notes', entry 1: it names no note"),
        ('notes = ["C3(5) E3(5)", "any"]', "'notes', entry 1: string 5 cannot sound two notes at once"),
        ('notes = ["C3(0)", "any"]', "'notes', entry 1: '0' is no string; they count from 1, the highest, to 12"),
        ('notes = ["C3(x)", "any"]', "'x' is no string"),
        ('notes = ["C3(5", "any"]', "'notes', entry 1: 'C3(5' cannot be read near '('"),
        (
            'notes = ["C3 C#3 D3 D#3 E3 F3 F#3 G3 G#3 A3 A#3 B3 C4", "any"]',
            "13 notes are more than any guitar has strings",
        ),
        ('notes = ["C3", "G2"]\ntop = "3"', "line 6: 'top' and 'notes' both say which notes are played"),
        ('notes = ["C3", "G2"]\nkind = "spread"', "line 6: 'kind' and 'notes' both say which notes are played"),
    ],
)
def test_what_is_wrong_is_said(fields: str, said: str) -> None:
    """With its line and its entry."""
    with pytest.raises(DrillError) as error:
        drill(f'chords = "C | G"\n{fields}')
    assert said in str(error.value)
    assert len(error.value.problems) <= 2


@pytest.mark.parametrize("notes", ["", 'notes = ["any"]'])
def test_a_nameless_chord_needs_notes(notes: str) -> None:
    """One line says so, and no second one when the notes themselves cannot be read."""
    with pytest.raises(DrillError, match=r"'\?' stands for notes without a name; say which they are in 'notes'"):
        drill(f'chords = "?"\n{notes}')
    with pytest.raises(DrillError) as error:
        drill('chords = "?"\nnotes = ["H2"]')
    assert len(error.value.problems) == 1


def test_who_is_to_blame_when_it_cannot_be_played() -> None:
    """The strings, the hand, the tuning: with what can be played instead."""
    with pytest.raises(PlanError, match=r"C as E2\(1\) G3 cannot be played: the choice of strings is in the way"):
        plan('chords = "C"\nnotes = ["E2(1) G3"]')
    with pytest.raises(
        PlanError, match="the choice of strings is in the way; on strings 6 5 3 it can be played at frets 1 to 3"
    ):
        plan('chords = "F"\nnotes = ["F2(6) C3(5) A3(4)"]')


@given(
    st.dictionaries(st.integers(1, 12), st.integers(0, 127), min_size=1, max_size=12).map(
        lambda found: sorted((pitch, -string) for string, pitch in found.items())
    )
)
def test_what_is_written_is_read_back(notes: list[tuple[int, int]]) -> None:
    """Any notes on any strings."""
    fixed = FixedNotes(tuple(spell(pitch) for pitch, _ in notes), tuple(-string for _, string in notes))
    assert fixed_notes(str(fixed)) == fixed


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Never anything but an error in words."""
    with suppress(MusicError):
        assert fixed_notes(text).pitches
