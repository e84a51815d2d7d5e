"""Every example on the pages is run, and every option has one."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import takewhile
from pathlib import Path

import pytest
from how_many import some
from jack_server import sender
from lab.pages.examples import EXAMPLES, Example
from lab.pages.reference import commands, option_names, page
from midi_loop import loop

from listener.cli import main
from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.planner import plan_drill

ROOT = Path(__file__).parents[1]
MY_DRILL = """\
title = "Two doors"
key = "G major"

[[passage]]
chords = "G | C | D | G"
kind = "spread"
"""
_INDENTED = re.compile(r"^    (widehand .*?)(?: {2,}#.*)?$", re.MULTILINE)
#: Commands that need somebody at the other end of a port, or a question answered.
_WAITING = re.compile(r"widehand (play|listen|ports|calibrate)|--start|drills new$|^widehand demo$")


def pages() -> list[Path]:
    return [ROOT / "README.md", ROOT / "drills" / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def on_pages() -> list[Example]:
    """The lines to type on all other pages, each once."""
    told = {example.line for examples in EXAMPLES.values() for example in examples}
    lines = dict.fromkeys(line for path in pages() for line in _INDENTED.findall(path.read_text(encoding="utf-8")))
    return [Example(line, "", bool(_WAITING.search(line))) for line in lines if line not in told]


ALL = [(name, example) for name, examples in EXAMPLES.items() for example in examples]
EVERY = [*(example for _, example in ALL), *on_pages()]
#: What plays or judges whole takes is dear: some of it each time.
_DEAR = re.compile(r"widehand (demo|rejudge|today --start|progress .*--html|drills (new|from))")
_PLAYED = some(example for example in EVERY if _DEAR.match(example.line))
QUIET = [example for example in EVERY if not example.live and (example in _PLAYED or not _DEAR.match(example.line))]
LIVE = [example for example in EVERY if example.live]
_TYPED = re.compile(r"^(?:    |)(widehand .*?)(?:  +#.*)?$", re.MULTILINE)
_INLINE = re.compile(r"`(widehand [^`]+)`")
_FILE = re.compile(r"(?<=[ =])[\w.-]+\.[a-z][a-z0-9]+")
_SHELL = re.compile(r"[|>&]")


def line_of(example: Example) -> str:
    return example.line


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Where a player of some days might stand: a history, a kept take, a drill of one's own."""
    place = tmp_path_factory.mktemp("player")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(place)
        patch.setenv("WIDEHAND_STORE", str(place / "lessons.sqlite3"))
        patch.setenv("WIDEHAND_SETTINGS", os.devnull)
        patch.setenv("COLUMNS", "100")
        patch.setenv("PATH", f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
        (place / "my-drill.toml").write_text(MY_DRILL, encoding="utf-8")
        for words in (["mill-verse"], ["ferry-landing"]):
            main(["demo", *words, "--fast", "--plain"])
        main(["plan", "mill-verse", "--midi", "recording.mid"])
        shutil.copy(sorted((place / "takes").glob("*mill-verse*.mid"))[0], place / "take.mid")
        yield place


def made_before(example: Example, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The drill that a line makes is not there yet; where other lines need it, it is."""
    own = folder / "own" / "my-line.toml"
    monkeypatch.setenv("WIDEHAND_DRILLS", str(own.parent))
    if "drills from" in example.line:
        own.unlink(missing_ok=True)
    elif "my-line" in example.line:
        own.parent.mkdir(exist_ok=True)
        own.write_text(MY_DRILL, encoding="utf-8")


@pytest.mark.parametrize("example", QUIET, ids=line_of)
def test_an_example_runs(
    example: Example, folder: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It ends well, says something or writes a file, and the files that it names are there."""
    made_before(example, folder, monkeypatch)
    if example.line.endswith("--begin"):
        monkeypatch.setenv("WIDEHAND_SETTINGS", str(folder / "mine" / "settings.toml"))
    named = _FILE.findall(example.line)
    if _SHELL.search(example.line):
        assert subprocess.run(["bash", "-c", example.line], cwd=folder, check=False).returncode == 0
    else:
        assert main(shlex.split(example.line)[1:]) == 0
        told = capfd.readouterr()
        assert told.out or told.err or named
    for name in named:
        assert (folder / name).stat().st_size > 0


@pytest.mark.parametrize("name", [name for name, _ in commands()])
def test_every_option_has_an_example(name: str) -> None:
    """Each option of each command is in one of its examples, and each command in the list."""
    parser = dict(commands())[name]
    words = {word for example in EXAMPLES[name] for word in shlex.split(example.line)}
    assert [option for option in option_names(parser) if option not in words] == []


def test_the_page_is_current() -> None:
    """docs/commands.md is what ``PYTHONPATH=tests python -m lab.pages.reference`` prints."""
    assert (ROOT / "docs" / "commands.md").read_text(encoding="utf-8") == page()


@pytest.mark.parametrize("path", pages(), ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_mentioned_exists(path: Path) -> None:
    """Every command line on a page, also in running text, has a command and options that there are."""
    text = path.read_text(encoding="utf-8")
    known = dict(commands())
    for line in (*_TYPED.findall(text), *_INLINE.findall(text)):
        words = list(takewhile(lambda word: word[0] not in "|>&#;", shlex.split(line)))
        if len(words) > 1 and words[1].islower():
            assert words[1] in known, line
            names = {name for action in known[words[1]]._actions for name in action.option_strings}
            assert {word for word in words[2:] if word.startswith("--")} <= names | {"--"}, line


def chords() -> list[tuple[float, list[int]]]:
    """Some seconds of chords for the guitar: those of mill-verse, one each half second."""
    plan = plan_drill(load_drill("mill-verse"), make_instrument(), make_hand())
    rows: list[tuple[float, list[int]]] = []
    voicings = [step.voicing.midi for step in plan.steps if step.voicing is not None]
    for number in range(12):
        at_s = 0.2 + number / 2
        for midi in voicings[number % len(voicings)]:
            rows += [(at_s, [0x90, midi, 90]), (at_s + 0.45, [0x80, midi, 0])]
    return sorted(rows, key=lambda row: row[0])


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
@pytest.mark.parametrize("example", LIVE, ids=line_of)
def test_a_live_example_runs(example: Example, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a guitar, a synthesiser and a cable on the other end it reports, and Ctrl-C ends it with all kept."""
    made_before(example, folder, monkeypatch)
    with ExitStack() as stack:
        guitar = stack.enter_context(sender("guitar"))
        for other in ("synth", "cable"):
            if other in example.line:
                stack.enter_context(loop(other, "3"))
        process = subprocess.Popen(
            ["bash", "-c", f"exec {example.line}"], cwd=folder, text=True, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        guitar.play(chords())
        try:
            out, err = process.communicate(timeout=5)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=20)
        # What is measured on a busy machine may scatter too much; questions want a terminal (they are tried on one in
        # tests/commands). Both are refused, in words.
        refused = "close other programs and try again" in err or "nobody is here to answer questions" in err
        assert process.returncode in (0, 130) or refused, err
        assert out or err
