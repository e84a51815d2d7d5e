"""``widehand listen``: by the computer's own player, into a file, through a port; one clear line for what cannot be."""

from __future__ import annotations

import json
import sys
import wave
from collections.abc import Sequence
from pathlib import Path

import pytest
from printed import run

from listener.errors import SourceError
from listener.hearing.sources import port
from listener.session.take.clock import JumpingClock

DRILL = "mill-verse"
ONE_CHANGE = ("listen", DRILL, "--change", "3", "--tempo", "400")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to stand in, on a computer without any player."""
    monkeypatch.setenv("PATH", str(tmp_path / "programs"))
    (tmp_path / "programs").mkdir()
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    return tmp_path / "here"


def player(folder: Path, name: str, script: str) -> None:
    program = folder.parent / "programs" / name
    program.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    program.chmod(0o755)


def seconds(path: Path) -> float:
    with wave.open(str(path)) as file:
        return file.getnframes() / file.getframerate()


def test_where_nothing_plays_the_file_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No error: the sound is left in a new file, and no other is written over."""
    (folder / "mill-verse.wav").write_text("my own", encoding="utf-8")
    code, out, err = run(capsys, *ONE_CHANGE)
    assert code == 0
    assert out == "Mill verse: the third on top: 2 chords, 0:01 at 400 beats a minute\n3 G   4 A\n"
    assert "mill-verse-2.wav" in err
    assert seconds(folder / "mill-verse-2.wav") > 1
    assert (folder / "mill-verse.wav").read_text(encoding="utf-8") == "my own"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows plays by itself")
def test_the_first_player_that_can_plays(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One without a sound card gives up; the next gets the whole file, and nothing is left behind."""
    player(folder, "paplay", "exit 1")
    player(folder, "aplay", f'read -r line; /bin/cp "$2" "{folder.parent}/heard.wav"')
    code, out, err = run(capsys, *ONE_CHANGE, "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["player"] == "aplay"
    assert seconds(folder.parent / "heard.wav") > 1
    assert list(folder.iterdir()) == []


def test_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One document: what is heard when, and where it went."""
    code, out, err = run(capsys, "listen", DRILL, "--passage", "spread", "--everyday", "--wav", "a.wav", "--json")
    told = json.loads(out)
    assert (code, err) == (0, "written: a.wav\n")
    assert (told["drill"], told["tempo"], told["everyday"], told["file"]) == (DRILL, 63.0, True, "a.wav")
    assert told["port"] is told["player"] is None
    assert [one["index"] for one in told["chords"]] == list(range(8, 16))
    assert told["chords"][0]["frets"] == [0, 2, 3, 2]  # D as everybody plays it
    assert told["chords"][0]["start_s"] == 0.0
    assert told["chords"][-1]["end_s"] < seconds(folder / "a.wav")


class Synth:
    """A MIDI output that keeps everything."""

    def __init__(self, name: str) -> None:
        if name != "synth":
            raise SourceError(f"there is no MIDI output port '{name}'")
        self.name, self.sent, self.closed = name, list[bytes](), False

    def send(self, data: bytes) -> None:
        self.sent.append(data)

    def close(self) -> None:
        self.closed = True


def test_through_a_port(folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The planned notes, each begun and ended; nothing is computed or written."""
    opened: list[Synth] = []

    def opening(name: str) -> Synth:
        opened.append(Synth(name))
        return opened[-1]

    monkeypatch.setattr(port, "open_output", opening)
    monkeypatch.setattr("listener.session.take.clock.RealClock", JumpingClock)
    code, out, _ = run(capsys, *ONE_CHANGE, "--port", "synth", "--json")
    told = json.loads(out)
    assert (code, told["port"], told["player"], told["file"]) == (0, "synth", None, None)
    (synth,) = opened
    begun = [data[1] for data in synth.sent if data[0] == 0x90]
    assert len(begun) == sum(len(one["strings"]) for one in told["chords"])
    assert sorted(begun) == sorted(data[1] for data in synth.sent if data[0] == 0x80)
    assert synth.closed
    code, out, err = run(capsys, *ONE_CHANGE, "--port", "piano")
    assert code == 1
    assert "no MIDI output port 'piano'; without --port the strings are computed here" in err
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "part", "code"),
    [
        ((), "which drill?", 2),
        (("mill-vers",), "mill-verse", 1),
        ((DRILL, "--passage", "chorus"), "no passage 'chorus'; it has 'close', 'spread'", 2),
        ((DRILL, "--change", "16"), "no change 16; its changes are 1 to 15", 2),
        ((DRILL, "--change", "0"), "not '0'", 2),
        ((DRILL, "--change", "-1"), "not '-1'", 2),
        ((DRILL, "--change", "3", "--passage", "close"), "do not go together", 2),
        ((DRILL, "--wav", "a.wav", "--port", "synth"), "do not go together", 2),
        ((DRILL, "--wav", "-"), "--wav needs the name of a file", 2),
        ((DRILL, "--wav", "."), "is a folder", 1),
        ((DRILL, "--wav", "no/where.wav"), "cannot be written", 1),
        ((DRILL, "--wav", "x" * 400), "cannot be written", 1),
        ((DRILL, "--wav", "a\0b.wav"), "cannot be written", 1),
        ((DRILL, "--wav", ""), "needs the name of a file", 2),
        ((DRILL, "--port", ""), "--port needs the name", 2),
        ((DRILL, "--tempo", "nan"), "not 'nan'", 2),
        ((DRILL, "--tuning", "D-1 A-1"), "step 1", 1),
        ((DRILL, "--capo", "99"), "not '99'", 2),
    ],
)
def test_trouble_is_one_clear_line(
    words: Sequence[str], part: str, code: int, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong and what to try; nothing is written."""
    got, out, err = run(capsys, "listen", *words)
    lines = [line for line in err.splitlines() if not line.startswith(" ")]
    assert (got, len(lines), out) == (code, 1, ""), err
    assert part in err
    assert list(folder.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="Windows plays by itself and keeps the folder one stands in")
def test_where_nobody_may_write(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sound is left elsewhere, and where is said. (A folder that is gone: even root cannot write to it.)"""
    folder.rmdir()
    code, _, err = run(capsys, *ONE_CHANGE)
    assert code == 0
    where = Path(err.split(" is in ")[1].split(", for")[0])
    assert where.is_absolute()
    assert seconds(where) > 1
