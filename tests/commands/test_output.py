"""Standard output closed, full or cut: every command ends with its exit code and no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import TextIO

import pytest

from listener.cli import main

#: Forty command lines that have something to show. {tmp} is a folder with a drill, a history with a take, and a bundle.
LINES = (
    "--help", "--version", "demo --help", "name G3 E4 C5", "name G3 E4 C5 --json", "name 60 61",
    "drills", "drills list", "drills show mill-verse", "drills check {tmp}/riff.toml", "drills --topic riff --json",
    "drills check mill-verse --json", "hear --simulate --drill mill-verse --json",
    "plan mill-verse", "plan mill-verse --json", "plan mill-verse --alternatives 2",
    "sheet mill-verse", "sheet mill-verse --tab -",
    "hear {tmp}/take.mid", "hear {tmp}/take.mid --json", "hear {tmp}/take.mid --drill mill-verse",
    "hear {tmp}/take.mid --drill mill-verse --json", "hear --simulate --drill mill-verse",
    "demo --fast", "demo --fast --plain", "demo --fast --json",
    "progress", "progress --json", "progress --csv -", "progress --csv-changes -", "today", "today --json",
    "rejudge", "rejudge --json", "export --all --csv -", "settings", "settings --json", "completion bash",
    "students {tmp}", "import {tmp}/all.zip --mine --dry-run",
)  # fmt: skip
#: The exit code of a command that would else have ended with 0.
CODES = {"closed": 1, "full": 1, "cut": 0}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("output")
    take = ["hear", "--simulate", "--drill", "mill-verse", "--out", str(folder / "take.mid")]
    bundle = ["export", "--all", "--bundle", str(folder / "all.zip"), "--from", "Mara"]
    drill = ["drills", "from", "C | G", "--out", str(folder / "riff.toml")]
    with pytest.MonkeyPatch.context() as patch, Path(os.devnull).open("w") as nowhere:
        patch.setenv("WIDEHAND_STORE", str(folder / "history.sqlite3"))
        patch.setattr(sys, "stdout", nowhere)
        patch.setattr(sys, "stderr", nowhere)
        assert [main(words) for words in (["demo", "--fast"], take, bundle, drill)] == [0, 0, 0, 0]
    return folder


@pytest.fixture(autouse=True)
def _own(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WIDEHAND_STORE", str(folder / "history.sqlite3"))
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))


def _stream(kind: str) -> TextIO | None:
    if kind == "closed":
        return None
    if kind == "full":
        return Path("/dev/full").open("w", encoding="utf-8")
    reading, writing = os.pipe()
    os.close(reading)
    return os.fdopen(writing, "w", encoding="utf-8")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="/dev/full is there on Linux only")
@pytest.mark.parametrize("kind", CODES)
@pytest.mark.parametrize(
    "line", [pytest.param(line, marks=() if i % 10 == 0 else pytest.mark.slow) for i, line in enumerate(LINES)]
)
def test_lost_output_has_its_exit_code(
    line: str, kind: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """1 and one line where it could not be written, 0 and not a word where the reader has seen enough."""
    stream = _stream(kind)
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", stream)
        try:
            code = main(line.replace("{tmp}", str(folder)).split())
        except SystemExit as end:
            code = int(end.code or 0)
        if stream is not None:
            stream.close()  # what Python does at the end; it raises if something is left that cannot be written
    told = [said for said in capsys.readouterr().err.splitlines() if "the rest cannot be shown" in said]
    assert code == CODES[kind]
    assert len(told) == CODES[kind]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="/dev/full is there on Linux only")
@pytest.mark.parametrize(
    ("redirected", "code"),
    [
        ("name 60 64 67 > /dev/full", 1),
        pytest.param("name 60 64 67 >&-", 1, marks=pytest.mark.slow),
        ("name 60 64 67 | true; exit ${PIPESTATUS[0]}", 0),
        pytest.param("plan mill-verse --json | head -c 10; exit ${PIPESTATUS[0]}", 0, marks=pytest.mark.slow),
        ("demo --fast >&- 2>&- <&-", 1),
        pytest.param("plan no-such-drill 2> /dev/full", 1, marks=pytest.mark.slow),
        pytest.param("plan no-such-drill 2>&-", 1, marks=pytest.mark.slow),
        ("no-such-command 2> /dev/full", 2),
    ],
)
def test_the_whole_program_ends_as_it_says(redirected: str, code: int, tmp_path: Path) -> None:
    """Nothing that Python does after us changes the exit code, and standard error is nothing to depend on."""
    store = tmp_path / "history.sqlite3"
    done = subprocess.run(
        ["bash", "-c", f'"{sys.executable}" -m listener {redirected}'],
        capture_output=True, text=True, check=False, env={**os.environ, "WIDEHAND_STORE": str(store)},
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    if "demo" in redirected:  # the take is kept, and nothing that was written nowhere has found its way into the file
        main(["rejudge", "--store", str(store)])
        assert store.read_bytes().startswith(b"SQLite format 3")


def test_a_take_outlives_its_output(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain lines that cannot be shown any more: the take goes on and is kept whole."""
    from in_terminal import kept_grades

    store = tmp_path / "history.sqlite3"
    stream = _stream("cut")
    assert stream is not None
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", stream)
        assert main(["demo", "--fast", "--store", str(store)]) == 0
    with suppress(OSError):
        stream.close()
    assert len(kept_grades(store)) == 16
