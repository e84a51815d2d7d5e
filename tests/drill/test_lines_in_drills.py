"""Top and bottom lines as drill files write them: motions, pedals, both at once, and melodies from files."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import MOTIONS, Drill, NoteWish, Step
from listener.drill.drill_file import load_drill, read_drill
from listener.errors import DrillError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.planner import plan_drill

HEAD = 'title = "t"\nkey = "C major"\n[[passage]]\n'


def steps_of(passage: str) -> tuple[Step, ...]:
    """The steps of a drill of one passage."""
    return read_drill(HEAD + passage, "t").steps


ENTRIES = st.lists(st.sampled_from([*MOTIONS, "any", "1", "3", "G4"]), min_size=3, max_size=3)


@given(ENTRIES, ENTRIES, st.integers(1, 3), st.booleans())
def test_motions_arrive_and_every_round_begins_anew(
    top: list[str], bottom: list[str], times: int, listed: bool
) -> None:
    """Degrees, pitches and motions mix in both lines; only the first chord of a round ignores what needs one before."""
    written = ["[" + ", ".join(f'"{entry}"' for entry in line) + "]" for line in (top, bottom)]
    texts = written if listed else [f'"{" ".join(line)}"' for line in (top, bottom)]
    bottom_text = texts[1].replace("G4", "G2")
    steps = steps_of(f'chords = "C | Em | G"\ntop = {texts[0]}\nbottom = {bottom_text}\ntimes = {times}')
    for step in steps:
        place = step.index % 3
        for entry, motion, line in (
            (top[place], step.top_motion, step.wish.top),
            (bottom[place], step.bottom_motion, step.wish.bottom),
        ):
            expected = entry if entry in MOTIONS else None
            if place == 0 and entry in ("up", "down", "same", "keep"):
                expected = None
            assert motion == expected
            assert (line == NoteWish()) == (entry in MOTIONS or entry == "any")


def test_one_motion_goes_for_all_chords() -> None:
    """A single word is for every chord."""
    assert [step.top_motion for step in steps_of('chords = "C | F | G"\ntop = "up"')] == [None, "up", "up"]
    assert [step.top_motion for step in steps_of('chords = "C | F | G"\ntop = "highest"')] == ["highest"] * 3


def test_a_pedal_stays_where_chords_do_not_have_it() -> None:
    """Chords without the pedal's tone become slash chords, the others stay; the bottom note is the pedal throughout."""
    steps = steps_of('chords = "G | C | D | Am7"\nbottom = "pedal  G2"')
    assert [step.wish.chord.symbol for step in steps] == ["G", "C", "D/G", "Am7"]
    assert {str(step.wish.bottom) for step in steps} == {"G2"}
    mixed = steps_of('chords = "G | F"\nbottom = ["any", "pedal G2"]')
    assert [str(step.wish.bottom) for step in mixed] == ["any note", "G2"]


def test_two_lines_at_once_are_kept_by_the_plan() -> None:
    """A falling bass and a rising top: both lines do on the neck what the drill asks for."""
    drill = read_drill(HEAD + 'chords = "C | G7/B | Am7 | Am7/G"\nvoices = 3\nbottom = "down"\ntop = "up"', "t")
    notes = [one.voicing.midi for one in plan_drill(drill, make_instrument(), make_hand()).steps]
    assert all(two[-1] > one[-1] and two[0] < one[0] for one, two in pairwise(notes))


SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Voice</part-name></score-part></part-list>
<part id="P1">
<measure number="1"><attributes><divisions>2</divisions><key><fifths>0</fifths></key>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes>
{symbol}<note><pitch><step>E</step><octave>4</octave></pitch><duration>4</duration></note>
<note><pitch><step>F</step><octave>4</octave></pitch><duration>2</duration></note>
<note><pitch><step>G</step><octave>4</octave></pitch><duration>2</duration></note></measure>
<measure number="2"><note><pitch><step>A</step><octave>4</octave></pitch><duration>4</duration></note>
<note><rest/><duration>4</duration></note></measure>
</part></score-partwise>
"""
SYMBOL = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"


def tune_drill(folder: Path, passage: str, score: str = SCORE.format(symbol=""), meter: str = "4/4") -> Drill:
    """A drill with a tune beside it, read as a player's own file."""
    (folder / "tune.musicxml").write_text(score, encoding="utf-8")
    file = folder / "mine.toml"
    file.write_text(f'title = "t"\nkey = "C major"\nmeter = "{meter}"\n[[passage]]\n{passage}\n', encoding="utf-8")
    return load_drill(str(file))


def test_every_melody_note_is_a_step_of_its_own(tmp_path: Path) -> None:
    """Worked out by hand: three notes over C, one over F, and the rest leaves F a step without a tune."""
    steps = tune_drill(tmp_path, 'chords = "C | F"\nmelody = "tune.musicxml"').steps
    found = [(step.wish.chord.symbol, step.bar, step.beat, step.length_beats, str(step.wish.top)) for step in steps]
    assert found == [
        ("C", 1, 1, 2, "E4"),
        ("C", 1, 3, 1, "F4"),
        ("C", 1, 4, 1, "G4"),
        ("F", 2, 1, 2, "A4"),
        ("F", 2, 3, 2, "any note"),
    ]
    assert [step.wish.added_top for step in steps] == [True] * 4 + [False]


def test_a_melody_is_on_top_of_the_plan(tmp_path: Path) -> None:
    """The planned top notes are the tune, the note foreign to its chord included."""
    drill = tune_drill(tmp_path, 'chords = "C | F"\nmelody = "tune.musicxml"\nkind = "close"')
    plan = plan_drill(drill, make_instrument(), make_hand())
    assert [str(one.voicing.top) for one in plan.steps[:4]] == ["E4", "F4", "G4", "A4"]


def test_a_melody_goes_through_the_keys(tmp_path: Path) -> None:
    """The tune moves with its chords."""
    steps = tune_drill(tmp_path, 'chords = "C | F"\nmelody = "tune.musicxml"\nkeys = ["Bb"]').steps
    assert [str(step.wish.top) for step in steps[:4]] == ["D4", "Eb4", "F4", "G4"]


def test_chords_may_come_from_the_melody_file(tmp_path: Path) -> None:
    """Without chords in the drill those in the file are taken."""
    steps = tune_drill(tmp_path, 'melody = "tune.musicxml"', SCORE.format(symbol=SYMBOL)).steps
    assert {step.wish.chord.symbol for step in steps} == {"C"}
    assert [step.beat for step in steps if step.bar == 1] == [1, 3, 4]


@pytest.mark.parametrize(
    ("passage", "meter", "problem"),
    [
        (
            'melody = "none.mid"\nchords = "C"',
            "4/4",
            "line 5: 'melody' cannot be opened: 'none.mid': there is no such file",
        ),
        ('melody = "/etc/hosts"\nchords = "C"', "4/4", "give the name of a file beside the drill"),
        ('melody = "../tune.mid"\nchords = "C"', "4/4", "give the name of a file beside the drill"),
        (
            'melody = "mine.toml"\nchords = "C"',
            "4/4",
            "line 5: 'melody' cannot be used: mine.toml cannot be read as a melody",
        ),
        ('melody = "tune.musicxml"\nchords = "C | F"', "3/4", "line 5: 'melody' is in 4/4, the drill in 3/4"),
        ('melody = "tune.musicxml"\nmelody_part = "Flute"\nchords = "C"', "4/4", "line 5: 'melody' cannot be used: "),
        ('melody = "tune.musicxml"', "4/4", "'chords' is missing"),
        ('melody = 5\nchords = "C"', "4/4", "line 5: 'melody' must be a text in quotes"),
        ('melody = ""\nchords = "C"', "4/4", "line 5: 'melody' is empty"),
        ('melody = "a\\u0000b"\nchords = "C"', "4/4", "control character"),
    ],
)
def test_melodies_that_cannot_be(tmp_path: Path, passage: str, meter: str, problem: str) -> None:
    """Each gives one clear line under the drill's name, and no traceback."""
    with pytest.raises(DrillError) as caught:
        tune_drill(tmp_path, passage, meter=meter)
    assert len(caught.value.problems) == 1
    assert problem in str(caught.value.problems[0])
