"""``listener.name``, ``plan``, ``judge`` and ``hear``: what the commands do, from Python; and the page about them."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

import listener
from listener.cli import main
from listener.formats import headed

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
#: What the page shows: each script with what it prints.
SCRIPTS = re.findall(r"^```python\n(.*?)^```\n\n^```text\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
DRILL = """\
title = "Two doors"
key = "G major"

[[passage]]
chords = "G | C | D | G"
kind = "spread"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """With the take that the page has one make, a recording from elsewhere, and a drill."""
    place = tmp_path_factory.mktemp("scripts")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(place)
        patch.setenv("WIDEHAND_SETTINGS", os.devnull)
        (made,) = re.findall(r"^    widehand (.*)$", PAGE, re.MULTILINE)
        assert main(made.split()) == 0
        assert main(["plan", "mill-verse", "--midi", "recording.mid"]) == 0
        (place / "two-doors.toml").write_text(DRILL, encoding="utf-8")
        yield place


def test_the_page_shows_every_function() -> None:
    """Each script stands with what it prints, and together they use all four and the error."""
    assert len(SCRIPTS) == PAGE.count("```python")
    used = set(re.findall(r"listener\.(\w+)", "".join(script for script, _ in SCRIPTS)))
    assert used == {"name", "plan", "judge", "hear", "WidehandError"}
    assert all(f"listener.{name}" in PAGE for name in listener.__all__ if name != "__version__")


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(("script", "printed"), SCRIPTS)
def test_a_script_of_the_page_prints_what_the_page_says(script: str, printed: str) -> None:
    """As somebody who has copied it gets it."""
    said = StringIO()
    with redirect_stdout(said):
        exec(compile(script, "a script", "exec"), {})
    assert [line.rstrip() for line in said.getvalue().splitlines()] == printed.splitlines()


def document(*words: str) -> dict[str, Any]:
    """What the command prints."""
    said = StringIO()
    with redirect_stdout(said):
        assert main([*words, "--json"]) == 0
    found: dict[str, Any] = json.loads(said.getvalue())
    return found


def same(name: str, fields: dict[str, object]) -> dict[str, Any]:
    """Those fields as such a document."""
    found: dict[str, Any] = json.loads(json.dumps(headed(name, fields)))
    return found


@pytest.mark.parametrize("notes", ["G3 E4 C5", "C3 E3 G3 A3", "Gb3 Bb3 Db4", "C4 D4"])
def test_names_are_those_of_the_command(notes: str) -> None:
    """The same readings, in the same order; flats are spelled as they were written, of numbers nobody knows."""
    told = document("name", notes)
    assert [reading.as_json() for reading in listener.name(notes)] == told["names"]
    assert listener.name(notes.split()) == listener.name(notes)
    flats = any("b" in note for note in notes.split())
    assert (listener.name(told["pitches"]) == listener.name(notes)) != flats


def test_a_plan_is_that_of_the_command(folder: Path) -> None:
    """By name, by path and by text; for the guitar and the hand that are asked for."""
    asked = ("--tuning", "drop d", "--capo", "2", "--hand", "small", "--easier")
    plan = listener.plan(folder / "two-doors.toml", tuning="drop d", capo=2, hand="small", easier=True)
    told = document("plan", "two-doors.toml", *asked)
    assert same("plan", plan.as_json()).items() <= told.items()
    assert [step.fingering for step in listener.plan(DRILL).steps] == [
        step.fingering for step in listener.plan("two-doors.toml").steps
    ]
    assert same("plan", listener.plan("mill-verse").as_json()).items() <= document("plan", "mill-verse").items()


def test_what_is_left_out_is_as_in_the_settings(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As at the command line; what is said goes first."""
    (folder / "settings.toml").write_text('[guitar]\ntuning = "dadgad"\ncapo = 1\n', encoding="utf-8")
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(folder / "settings.toml"))
    plan = listener.plan(DRILL, capo=3)
    assert (plan.tuning[0], plan.capo) == ("D2", 3)
    assert listener.plan(DRILL, tuning="standard").capo == 1


@pytest.mark.usefixtures("folder")
def test_a_judgement_is_that_of_the_command() -> None:
    """Of a take and of a recording; by path and by bytes, against a drill and against its plan."""
    judged = listener.judge("lesson.mid", "mill-verse")
    told = document("hear", "lesson.mid", "--drill", "mill-verse")
    assert same("verdicts", judged.as_json()) == told
    assert 0 < judged.account.hits < judged.account.judged == len(judged.plan.steps)
    again = listener.judge(Path("lesson.mid").read_bytes(), judged.plan)
    assert again.verdicts == judged.verdicts
    clicked = listener.judge("recording.mid", "mill-verse", tempo=60, pickup="per-string")
    asked = ("--drill", "mill-verse", "--tempo", "60", "--pickup", "per-string")
    assert same("verdicts", clicked.as_json()) == document("hear", "recording.mid", *asked)
    assert {verdict.offset_ms is None for verdict in clicked.verdicts} == {False}
    assert {verdict.offset_ms for verdict in listener.judge("recording.mid", "mill-verse").verdicts} == {None}


@pytest.mark.usefixtures("folder")
def test_a_take_is_judged_for_the_guitar_it_was_played_on() -> None:
    """A take says which that was, whatever the settings say; a plan that is given says it itself."""
    assert (
        main(["hear", "--simulate", "--drill", "mill-verse", "--tuning", "drop d", "--capo", "2", "--out", "d.mid"])
        == 0
    )
    plan = listener.judge("d.mid", "mill-verse").plan
    assert (plan.tuning[0], plan.capo) == ("D2", 2)
    assert listener.judge("d.mid", listener.plan("mill-verse")).plan.capo == 0


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("file", ["lesson.mid", "recording.mid"])
def test_what_is_heard_is_what_the_command_hears(file: str) -> None:
    """Chords, harmony, and what was set right."""
    heard = listener.hear(file)
    assert same("chords", heard.as_json()) == document("hear", file)
    assert heard.chords
    assert heard.harmony
    assert listener.hear(Path(file).read_bytes()) == heard


LONG = "x" * 5000
#: What is asked for, and a part of the one line that must come.
TROUBLE: dict[str, tuple[Callable[[], object], str]] = {
    "no notes": (lambda: listener.name(""), "no notes given"),
    "an empty row": (lambda: listener.name([]), "no notes given"),
    "a note without octave": (lambda: listener.name("G E C"), "'G' needs its octave"),
    "a German note": (lambda: listener.name(["C4", "H3"]), "'H3' is not a note"),
    "a note beyond MIDI": (lambda: listener.name([60, 128]), "'128' is not a MIDI note"),
    "half a note": (lambda: listener.name([60.5]), "'60.5' is not a note"),  # type: ignore[list-item]
    "one number": (lambda: listener.name(60), "such as [55, 64, 72], not 60"),  # type: ignore[arg-type]
    "nothing": (lambda: listener.name(None), "not None"),  # type: ignore[arg-type]
    "bytes": (lambda: listener.name(b"G3"), "not b'G3'"),
    "an endless note": (lambda: listener.name("9" * 5000), "is not a MIDI note"),
    "no such drill": (lambda: listener.plan("mill-vers"), "did you mean mill-verse"),
    "no drill": (lambda: listener.plan(""), "there is no drill of this name"),
    "no name of one": (lambda: listener.plan(5), "or a drill's text, not 5"),  # type: ignore[arg-type]
    "no such drill file": (lambda: listener.plan("no/such.toml"), "there is no such file"),
    "a name that no file has": (lambda: listener.plan("\0"), "there is no drill of this name"),
    "a text that is no drill": (lambda: listener.plan("two\nlines"), "the drill: line 1: cannot be read"),
    "a chord that is none": (
        lambda: listener.plan(DRILL.replace("C |", "Hm7 |")),
        "the drill: line 5: 'chords', bar 2",
    ),
    "no such tuning": (lambda: listener.plan(DRILL, tuning="sideways"), "there is no tuning 'sideways'"),
    "a tuning in numbers": (lambda: listener.plan(DRILL, tuning=[40]), "not as [40]"),  # type: ignore[arg-type]
    "a capo off the neck": (lambda: listener.plan(DRILL, capo=40), "a capo at fret 40"),
    "a capo before it": (lambda: listener.plan(DRILL, capo=-1), "a capo at fret -1"),
    "a capo between frets": (lambda: listener.plan(DRILL, capo=2.5), "not on 2.5"),  # type: ignore[arg-type]
    "no such hand": (lambda: listener.plan(DRILL, hand="huge"), "there is no hand 'huge'"),
    "too few strings": (lambda: listener.plan(DRILL, tuning="E2"), "step 1 (bar 1, beat 1)"),
    "no such take": (lambda: listener.judge("no.mid", DRILL), "no.mid: there is no such file"),
    "a folder": (lambda: listener.judge(".", DRILL), "that is a folder"),
    "a name that no take has": (lambda: listener.judge("\0", DRILL), "it cannot be read"),
    "a long one": (lambda: listener.judge(LONG, DRILL), "give a Standard MIDI File"),
    "no bytes": (lambda: listener.judge(b"", DRILL), "the MIDI file is empty"),
    "too many": (lambda: listener.judge(bytes(33 << 20), DRILL), "the MIDI file is larger than 32 MB"),
    "other bytes": (lambda: listener.judge(b"hello", DRILL), "not a Standard MIDI File"),
    "half a take": (lambda: listener.judge(take()[:200], DRILL), "the MIDI file is cut off"),
    "an open file": (lambda: listener.judge(StringIO(), DRILL), "or its bytes, not <"),  # type: ignore[arg-type]
    "against no drill": (lambda: listener.judge(take(), None), "not None"),  # type: ignore[arg-type]
    "a take with a tempo": (lambda: listener.judge(take(), DRILL, tempo=60), "leave tempo out"),
    "a tempo of 0": (lambda: listener.judge("recording.mid", DRILL, tempo=0), "from 20 to 400 beats a minute, not 0"),
    "no number": (lambda: listener.judge("recording.mid", DRILL, tempo=float("nan")), "not nan"),
    "a tempo in words": (lambda: listener.judge("recording.mid", DRILL, tempo="slow"), "not 'slow'"),  # type: ignore[arg-type]
    "no such pickup": (lambda: listener.judge("recording.mid", DRILL, pickup="magic"), "no pickup profile 'magic'"),
    "nothing to hear": (lambda: listener.hear("no.mid"), "no.mid: there is no such file"),
    "a drill to hear": (lambda: listener.hear("two-doors.toml"), "not a Standard MIDI File"),
    "no take": (lambda: listener.hear([1]), "or its bytes, not [1]"),  # type: ignore[arg-type]
    "half a take to hear": (lambda: listener.hear(take()[:100]), "the MIDI file is cut off"),
    "heard with no such pickup": (lambda: listener.hear("recording.mid", pickup="magic"), "no pickup profile 'magic'"),
    "a pickup in numbers": (lambda: listener.hear("recording.mid", pickup=5), "not as 5"),  # type: ignore[arg-type]
    "nobody's home": (lambda: listener.hear("~nobody-of-that-name/x.mid"), "there is no home folder of that name"),
    "an endless device": (lambda: listener.hear("/dev/zero"), "a pipe or a device"),
}


def take() -> bytes:
    return Path("lesson.mid").read_bytes()


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("story", TROUBLE)
def test_trouble_is_one_clear_line(story: str) -> None:
    """What is wrong, whatever was given; it fits a line and may be printed."""
    ask, part = TROUBLE[story]
    with pytest.raises(listener.WidehandError) as caught:
        ask()
    said = str(caught.value)
    assert part in said
    assert said.isprintable()
    assert len(said) < 500


@pytest.mark.parametrize(
    ("call", "not_needed"),
    [
        ("listener.name('G3 E4 C5')", ("numpy", "mido", "rich", "sqlite3", "argparse")),
        ("listener.plan('paddock-gate')", ("mido", "rich", "sqlite3", "argparse")),
        ("listener.hear('recording.mid')", ("mido", "rich", "sqlite3", "argparse")),
    ],
)
def test_a_call_loads_only_what_it_needs(call: str, not_needed: tuple[str, ...], folder: Path) -> None:
    """Naming wants no planner, and nothing wants the screen, the history or the command line."""
    code = f"import sys, listener; {call}; print(*(name for name in sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=True)
    assert not {*not_needed, "listener.commands", "listener.screen", "listener.history"} & set(done.stdout.split())


def test_there_is_nothing_else() -> None:
    """A name that is none is said as Python says it."""
    with pytest.raises(AttributeError, match="module 'listener' has no attribute 'nmae'"):
        listener.nmae  # type: ignore[attr-defined]  # noqa: B018
