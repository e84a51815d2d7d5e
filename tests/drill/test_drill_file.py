"""Drill files are read whole, and what is wrong with them is told all at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import EXACT, SAME_CHORD, NoteWish
from listener.drill.drill_file import DRILL_FIELDS, LARGEST_BYTES, load_drill, read_drill
from listener.drill.exercises.registry import EXERCISES
from listener.drill.exercises.spots import MOST_STEPS
from listener.drill.manners import COMPING, manner
from listener.drill.reading.wish_fields import WISH_FIELDS
from listener.errors import DrillError, Problem
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.planner import plan_drill

BROKEN = sorted((Path(__file__).parent / "broken").glob("*.toml"))
PAGES = (Path("drills") / "README.md", Path("docs") / "drill-file.md")

HEAD = 'title = "A test"\nkey = "C major"\n'


def problems_of(text: str) -> list[str]:
    """The problems of a text that is no good drill."""
    with pytest.raises(DrillError) as caught:
        read_drill(text, "test")
    return [str(problem) for problem in caught.value.problems]


def test_there_are_broken_drills() -> None:
    """The table of broken files is not empty."""
    assert len(BROKEN) >= 10


@pytest.mark.parametrize("file", BROKEN, ids=lambda file: file.stem)
def test_broken_files_give_exactly_these_problems(file: Path) -> None:
    """Every broken file gives the messages that stand beside it, in the order of the file."""
    expected = file.with_suffix(".txt").read_text(encoding="utf-8").splitlines()
    assert expected
    assert problems_of(file.read_text(encoding="utf-8")) == expected


def test_ten_faults_are_all_reported_with_their_lines() -> None:
    """A file with ten faults gives ten problems, on the lines where the faults were put by hand."""
    text = (Path(__file__).parent / "broken" / "ten-faults.toml").read_text(encoding="utf-8")
    with pytest.raises(DrillError) as caught:
        read_drill(text, "ten-faults")
    assert [problem.line for problem in caught.value.problems] == [2, 3, 4, 5, 6, 7, 10, 11, 12, 13]
    assert str(caught.value).startswith("ten-faults: 10 problems\n")


def test_all_fields_of_the_drill_arrive() -> None:
    """What is written at the top of the file is in the drill, long texts with their line breaks gone."""
    drill = read_drill(
        """
title = "Everything"
topic = "spread triads"
difficulty = 4
about = '''
One line
and another.
'''
listen_for = "the top"
move_on = "when it sings"
key = "F# minor"
tempo = 72.5
meter = "6/8"
strictness = "same chord"
timing_ms = 60
together_ms = 120
manner = "comping"
[weights]
movement = 2
strain = 0.5
[[passage]]
chords = "F#m"
""",
        "everything",
    )
    assert (drill.name, drill.title, drill.topic, drill.difficulty) == ("everything", "Everything", "spread triads", 4)
    assert (drill.about, drill.listen_for, drill.move_on) == ("One line and another.", "the top", "when it sings")
    assert (drill.key, drill.tempo, drill.meter, drill.timing_ms) == ("F# minor", 72.5, (6, 8), 60)
    assert drill.together_ms == 120
    # The only chord begins and ends the passage, so its bass is the passage's last word.
    usual = manner(COMPING)
    assert drill.weights == (replace(usual, movement=2, leap=0.0, strain=0.5, bass=usual.ending),)
    assert drill.steps[0].strictness == SAME_CHORD
    assert drill.steps[0].length_beats == 6
    assert drill.steps[0].line == 22


def test_the_smallest_drill_has_the_documented_defaults() -> None:
    """Title, key and chords are enough; the rest is as docs/drill-file.md says."""
    drill = read_drill(HEAD + '[[passage]]\nchords = "C"', "small")
    assert (drill.tempo, drill.meter, drill.difficulty, drill.timing_ms) == (60, (4, 4), 1, 80)
    assert drill.together_ms is None
    step = drill.steps[0]
    assert (step.passage, step.strictness, step.wish.kinds) == ("passage 1", EXACT, ("any",))
    assert (step.wish.top, step.wish.bottom, step.wish.size) == (NoteWish(), NoteWish(), None)


def test_what_is_asked_of_the_touch() -> None:
    """The drill's fields hold for its passages, which may say otherwise; the sides of a contrast have their levels; and
    nothing of it is in the plan."""
    text = (
        HEAD
        + """
ring = true
balance = "bottom"
[[passage]]
chords = "C"
[[passage]]
chords = "C"
ring = false
balance = "free"
level = "quiet"
[[passage]]
chords = "C"
balance = "top"
level = "loud"
[[passage]]
exercise = "contrast"
chords = "C"
quiet = { balance = "top" }
loud = { ring = false }
[[passage]]
chords = "C"
keys = ["C", "D"]
level = "quiet"
"""
    )
    drill = read_drill(text, "touched")
    assert [(step.ring, step.balance, step.level) for step in drill.steps] == [
        (True, "bottom", None),
        (False, None, "quiet"),
        (True, "top", "loud"),
        (True, "top", "quiet"),
        (False, "bottom", "loud"),
        (True, "bottom", "quiet"),
        (True, "bottom", "quiet"),
    ]
    step = read_drill(HEAD + '[[passage]]\nchords = "C"', "small").steps[0]
    assert (step.ring, step.balance, step.level) == (False, None, None)


def test_the_fields_of_a_wish_arrive() -> None:
    """Everything that a passage says about its voicings is in the wish of its steps."""
    text = """[[passage]]
chords = "C | Am7 | F"
kind = ["spread", "drop 2 or drop 3"]
top = ["3", "E4", "any"]
bottom = "1 any A2"
strings = [6, 4, 3, 2]
frets = [2, 9]
open_strings = false
strictness = "same kind and top"
"""
    steps = read_drill(HEAD + text, "t").steps
    assert [step.wish.kinds for step in steps] == [("spread",), ("drop 2", "drop 3"), ("spread",)]
    assert [str(step.wish.top) for step in steps] == ["the 3", "E4", "any note"]
    assert [str(step.wish.bottom) for step in steps] == ["the 1", "any note", "A2"]
    wish = steps[0].wish
    assert (wish.strings, wish.frets, wish.open_strings) == ((6, 4, 3, 2), (2, 9), False)
    assert {step.strictness for step in steps} == {"same kind and top"}


@pytest.mark.parametrize(
    ("chord", "written", "meant"),
    [
        ("Cm", "3", "b3"),
        ("C", "3", "3"),
        ("Bm7b5", "5", "b5"),
        ("G7", "7", "b7"),
        ("Bdim7", "7", "bb7"),
        ("C13", "6", "13"),
        ("Csus4", "11", "4"),
        ("Cadd9", "2", "9"),
        ("C7b9", "9", "b9"),
        ("C7#9b9", "#9", "#9"),
        ("C/D", "5", "5"),
    ],
)
def test_a_plain_degree_is_the_chords_own(chord: str, written: str, meant: str) -> None:
    """Common practice: a bare 3 in a minor chord is its minor third, a bare 7 in a dominant its minor seventh."""
    drill = read_drill(HEAD + f'[[passage]]\nchords = "{chord}"\ntop = "{written}"', "t")
    assert drill.steps[0].wish.top == NoteWish(degree=meant)


def test_without_is_read_as_the_chords_own_degrees() -> None:
    """A tone that somebody else plays is left out where a chord has it; other chords are left alone."""
    drill = read_drill(HEAD + '[[passage]]\nchords = "C13 | Am"\nwithout = ["1", "9"]', "t")
    assert [step.wish.without for step in drill.steps] == [("1", "9"), ("1",)]


def test_the_examples_of_the_description_can_be_read() -> None:
    """Every drill that the two pages about drill files show is a good one, and a medium hand can play it."""
    texts = [(Path(__file__).parents[2] / page).read_text(encoding="utf-8") for page in PAGES]
    examples = [example for text in texts for example in text.split("```toml\n")[1:]]
    assert len(examples) >= 12
    for example in examples:
        drill = read_drill(example.split("```")[0], "example")
        assert len(plan_drill(drill, make_instrument(), make_hand()).steps) == len(drill.steps)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 5000,
        "a = " + "[" * 5000,
        "a = " + "9" * 5000,
        "tempo = 0x" + "f" * 9000,
        "a = [{b = 0x1" + "0" * 99 + "}]",
    ],
)
def test_absurd_texts_are_one_problem(text: str) -> None:
    """Endless nesting and numbers beyond reading give one problem, not a crash."""
    assert len(problems_of(text)) == 1


def test_too_many_steps_are_one_problem() -> None:
    """More than 10,000 steps are refused without building them."""
    chords = " | ".join(["C"] * 101)
    text = HEAD + f'[[passage]]\nchords = "{chords}"\ntimes = 100'
    assert problems_of(text) == [f"line 3: the drill has more than {MOST_STEPS:,} steps from here on; make it shorter"]
    keys = HEAD + f'[[passage]]\nchords = "{chords}"\ntimes = 10\nkeys = "chromatic up"'
    assert problems_of(keys) == problems_of(text)
    passages = HEAD + f'[[passage]]\nchords = "{chords}"\ntimes = 60\n' * 3
    assert [line.split(":")[0] for line in problems_of(passages)] == ["line 6"]


def test_ten_thousand_steps_are_a_drill() -> None:
    """The largest drill has exactly 10,000 steps, in one passage or in two."""
    assert len(read_drill(HEAD + f'[[passage]]\nchords = "{"C | " * 10_000}"', "t").steps) == MOST_STEPS
    half = f'[[passage]]\nchords = "{"C Am7 " * 50}"\ntimes = 50\n'
    assert len(read_drill(HEAD + half * 2, "t").steps) == MOST_STEPS


@pytest.mark.parametrize(
    ("passage", "problem"),
    [
        ("C " * 10_001, "line 4: 'chords', bar 1: here are more than 10,000 chords; the rest was not read"),
        ("C | " * 10_001, "line 4: 'chords', bar 10001: here are more than 10,000 chords; the rest was not read"),
        ("C " * 9_000 + "| % " * 9_000, "line 4: 'chords', bar 2: here are more than 10,000 chords; the rest"),
        ("C " + ". " * 9_000 + "| % " * 40_000, "line 4: 'chords', bar 12: here are more than 10,000 chords; the rest"),
        ("C " * 100_001, "line 4: 'chords' has 200,002 characters; no drill needs more than 200,000"),
    ],
)
def test_reading_stops_after_ten_thousand_chords(passage: str, problem: str) -> None:
    """However the chords are multiplied, reading stops there and says so."""
    found = problems_of(HEAD + f'[[passage]]\nchords = "{passage}"')
    assert found[0].startswith(problem[:60])


HOSTILE = {
    "chords": 'chords = "' + "C " * 490_000 + '"',
    "unreadable chords": 'chords = "' + "Q " * 99_000 + '"',
    "repeats": 'chords = "' + "C " * 9_000 + "| % " * 45_000 + '"',
    "bar lines": 'chords = "' + "| " * 99_000 + '"',
    "fields": 'chords = "C"\n' + "".join(f"field_{number} = 1\n" for number in range(50_000)),
    "strings": 'chords = "C"\nstrings = [' + "99," * 300_000 + "]",
    "kinds": 'chords = "C"\nkind = [' + '"x",' * 9_900 + "]",
    "alternatives": 'chords = "C"\nkind = "' + "x or " * 39_000 + '"',
    "entries": 'chords = "C"\ntop = "' + "3 " * 99_000 + '"',
    "changes": "changes = [" + '"C -> Q",' * 9_900 + "]",
    "passages": 'chords = "C"\n' + '[[passage]]\nchords = "C"\n' * 39_000,
    "keys": 'chords = "C"\nkeys = [' + '"X",' * 9_900 + "]",
    "rhythm": 'chords = "C"\nrhythm = "' + "x " * 99_000 + '"',
    "strokes": 'chords = "' + "C | " * 9_000 + '"\nrhythm = "' + "x " * 90 + '"',
    "inversions": 'exercise = "inversions"\nchords = "' + "C | " * 9_900 + '"\nsteps = 14\ndirection = "up and down"',
    "ladder": 'chords = "' + "C | " * 9_000 + '"\nladder = [' + "9," * 19 + "9]\ntimes = 100",
    "weak changes": "changes = [" + '"C -> G",' * 9_900 + "]\ntimes = 100",
}


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused_in_bounded_time(name: str) -> None:
    """Up to a megabyte of nonsense is refused in at most 40 times the processor time of a large good drill, measured
    beside it, and never more than 101 problems are shown."""
    good = HEAD + f'[[passage]]\nchords = "{"C | Am7 | " * 5_000}"'
    start = process_time()
    read_drill(good, "good")
    usual_s = process_time() - start
    start = process_time()
    found = problems_of(HEAD + "[[passage]]\n" + HOSTILE[name])
    assert process_time() - start < 40 * usual_s
    assert 1 <= len(found) <= 101


def test_endless_problems_are_cut_short() -> None:
    """A file with a thousand faults shows the first hundred, and says how many more there are."""
    problems = problems_of(HEAD + "".join(f"no_field_{index} = 1\n" for index in range(1000)))
    assert len(problems) == 101
    assert problems[1].startswith("line 3: unknown field 'no_field_0'")
    assert problems[-1].endswith("and 901 more problems from here on")


def test_a_huge_text_is_one_problem() -> None:
    """A text over 1 MB is refused before it is read."""
    assert problems_of("#" * (LARGEST_BYTES + 1)) == ["is larger than 1 MB, which no drill needs"]


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b'title = "\xff\xfe"', "line 1: is not UTF-8 text; save the file as UTF-8"),
        (b"\n\n\xc3(", "line 3: is not UTF-8 text; save the file as UTF-8"),
        (b"#" * (LARGEST_BYTES + 1), "is larger than 1 MB, which no drill needs"),
    ],
)
def test_files_that_are_no_text_are_one_problem(tmp_path: Path, data: bytes, problem: str) -> None:
    """A file that cannot be a drill gives one clear line under the path that the player gave."""
    file = tmp_path / "mine.toml"
    file.write_bytes(data)
    with pytest.raises(DrillError) as caught:
        load_drill(str(file))
    assert caught.value.name == str(file)
    assert [str(problem) for problem in caught.value.problems] == [problem]


def test_a_byte_order_mark_and_other_line_ends_do_no_harm(tmp_path: Path) -> None:
    """Files saved by other editors (byte order mark, CR LF) read the same and keep their line numbers."""
    file = tmp_path / "mine.toml"
    text = HEAD + '[[passage]]\nchords = """\nC |\nG |\n"""\n'
    file.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    drill = load_drill(str(file))
    assert drill.name == "mine"
    assert [step.line for step in drill.steps] == [5, 6]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("mill-vers", "did you mean mill-verse"),
        ("ferry", "did you mean ferry-landing?"),
        ("zzz", "widehand drills lists those there are"),
        ("", "widehand drills lists those there are"),
        ("nowhere/drill.toml", "there is no such file"),
        ("gone.toml", "there is no such file"),
        ("a\0b", "there is no drill of this name"),
        ("x" * 5000, "there is no drill of this name"),
    ],
)
def test_unknown_drills_get_a_hint(asked: str, words: str) -> None:
    """A name that is no drill and a path that is no file are said so, with the nearest names."""
    with pytest.raises(DrillError) as caught:
        load_drill(asked)
    assert words in str(caught.value)
    assert len(caught.value.problems) == 1


def test_a_folder_is_no_drill(tmp_path: Path) -> None:
    """Naming a folder is one clear line."""
    with pytest.raises(DrillError, match="is a folder"):
        load_drill(str(tmp_path))


FIELD_NAMES = st.sampled_from(
    sorted({*DRILL_FIELDS, *WISH_FIELDS, *(n for one in EXERCISES.values() for n in one.fields), "other"})
)
VALUES = st.sampled_from(
    """0; -1; 3; 4.5; nan; true; ""; "C"; "C | G7"; "E4"; "3"; "x"; []; [3, 2]; ["3", "5"]; {a = 1}; [[1]]; 1979-05-27;
    "spread"; "full"; "drop 2"; "scale run"; "up and down"; "C major"; "inversions"; "held tones"; "cycle"; "contrast";
    "riff"; "thirds"; "minor thirds"; "x . -"; ["C -> F"]; "up"; "pedal C2"; "E3"; {kind = "full"}; ["C", "G"];
    "chromatic up"; "keys"; ["triad", 7]""".replace("\n", " ").split(";")
)
TABLES = st.dictionaries(FIELD_NAMES, VALUES, max_size=8)


@given(TABLES, st.lists(TABLES, max_size=3))
def test_no_file_can_crash_the_reader(top: dict[str, str], passages: list[dict[str, str]]) -> None:
    """Any TOML of our own words with any values is a drill whose passages all have steps, or a DrillError
    whose problems are sorted by line."""
    head = {"title": '"t"', "key": '"C major"'} | top
    text = "".join(f"{name} = {value}\n" for name, value in head.items() if name != "passage" or not passages)
    for table in passages:
        text += "[[passage]]\n" + "".join(f"{name} = {value}\n" for name, value in table.items())
    problems: tuple[Problem, ...] = ()
    try:
        drill = read_drill(text, "any")
        assert len({step.passage for step in drill.steps}) >= max(1, len(passages))
    except DrillError as error:
        problems = error.problems
        ok = False
    else:
        ok = True
    lines = [problem.line for problem in problems]
    assert ok != bool(problems)
    assert lines == sorted(lines)
    assert all(0 <= line <= text.count("\n") + 1 for line in lines)
    assert all("\n" not in problem.text for problem in problems)


@pytest.mark.parametrize(
    ("written", "meant"),
    [("", False), ("remarks = false", False), ("remarks = true", True), ('remarks = "faults"', "faults")],
)
def test_remarks_are_off_said_or_faults(written: str, meant: bool | str) -> None:
    """The three values of the field."""
    assert read_drill(HEAD + f'{written}\n[[passage]]\nchords = "C"', "t").remarks == meant


@pytest.mark.parametrize("bad", ['"fault"', '"true"', '""', "1", "0", "[]", '["faults"]', "{}", "1.0", "2026-01-01"])
def test_other_remarks_are_one_clear_line(bad: str) -> None:
    """Whatever else stands there is told with its line and what may stand there."""
    text = HEAD + f'remarks = {bad}\n[[passage]]\nchords = "C"'
    (problem,) = problems_of(text)
    line = text[: text.index("remarks")].count("\n") + 1
    assert problem.startswith(f"line {line}: 'remarks' must be true, false or \"faults\", not ")
