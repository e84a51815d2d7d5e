"""Over real MIDI: listening without a drill, and the chord that is due sounding on a port when it is asked for."""

from __future__ import annotations

import fcntl
import json
import os
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from calm import no_longer_than, patient
from jack_server import sender

from listener.hearing.sources.port import PortSource, open_input
from listener.hearing.take_file import read_take

DRILL = "mill-verse"
CHORDS = [(48, 55, 64), (53, 60, 69), (55, 62, 71), (57, 64, 72), (50, 57, 65)]
pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]


@contextmanager
def widehand(*words: str, terminal: int | None = None) -> Iterator[subprocess.Popen[str]]:
    """A program that is gone in the end, whatever happens; its keys are typed on a terminal, if it has one."""
    with subprocess.Popen(
        [sys.executable, "-m", "listener", *words],
        stdin=subprocess.DEVNULL if terminal is None else terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        bufsize=1,
        start_new_session=True,
        preexec_fn=None if terminal is None else lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def lines_until(process: subprocess.Popen[str], words: str, count: int = 1) -> list[str]:
    """What it tells until these words have been in so many lines."""
    assert process.stderr is not None
    lines: list[str] = []
    with no_longer_than(process):
        for line in process.stderr:
            lines.append(line)
            if sum(words in one for one in lines) == count:
                return lines
    raise AssertionError(f"'{words}' was not told {count} times: {lines}")


@pytest.mark.slow
@patient
def test_free_listening_names_what_another_process_plays(tmp_path: Path) -> None:
    """``play`` without a drill: each chord is told while it is played and is in the report; the take is kept, and heard
    again from its file it is the same."""
    rows = []
    for number, pitches in enumerate(CHORDS):
        for string, pitch in enumerate(pitches):
            at_s = 0.3 + 0.4 * number + 0.004 * string
            rows += [(at_s, (0x90 | 4 - string, pitch, 90)), (at_s + 0.25, (0x80 | 4 - string, pitch, 0))]
    with (
        sender("free-a") as guitar,
        widehand(
            "play", "--port", "free-a", "--pickup", "per-string", "--store", str(tmp_path / "h.sqlite3"), "--json"
        ) as playing,
    ):
        lines_until(playing, "Listening to")
        guitar.play(sorted(rows))
        lines_until(playing, ", top ", len(CHORDS))
        playing.send_signal(signal.SIGINT)
        out, err = playing.communicate(timeout=60)
        assert playing.returncode == 130, err
    live = json.loads(out)
    assert [tuple(stroke["pitches"]) for stroke in live["strokes"]] == CHORDS
    assert [stroke["chord"] for stroke in live["strokes"]] == ["C", "F", "G", "Am", "Dm"]
    assert live["strokes"][1]["movement"]["voices"] == [5, 5, 5]
    (take,) = (tmp_path / "takes").glob("*.mid")
    assert len(read_take(take.read_bytes(), take.name).messages) >= len(rows) - len(CHORDS[-1])
    with widehand("hear", str(take), "--remarks", "--json") as hearing:
        assert json.loads(hearing.communicate(timeout=60)[0]) == live


@pytest.mark.slow
@patient
def test_what_was_played_is_kept_as_a_drill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The key k, typed on a real terminal while real MIDI comes in: the drill is there under the name that is shown, on
    the strings that were played, and can be planned at once."""
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))
    rows = []
    strings = [[5, 3, 1], [4, 3, 1], [4, 3, 1], [4, 2, 1], [4, 3, 1]]
    for number, pitches in enumerate(CHORDS):
        for place, pitch in enumerate(pitches):
            at_s, channel = 0.3 + 0.6 * number + 0.004 * place, strings[number][place] - 1
            rows += [(at_s, (0x90 | channel, pitch, 90)), (at_s + 0.5, (0x80 | channel, pitch, 0))]
    near, far = os.openpty()
    try:
        with (
            sender("keep-a") as guitar,
            widehand(
                "play", "--port", "keep-a", "--pickup", "per-string", "--json",
                "--store", str(tmp_path / "h.sqlite3"), terminal=far,
            ) as playing,
        ):  # fmt: skip
            lines_until(playing, "Listening to")
            guitar.play(sorted(rows))
            lines_until(playing, ", top ", len(CHORDS))
            os.write(near, b"k")
            told = lines_until(playing, "Kept as ")[-1]
            assert told.startswith("Note: Kept as kept-1: 5 chords. Found in the playing: ")
            os.write(near, b"q")
            playing.communicate(timeout=60)
    finally:
        os.close(near)
        os.close(far)
    with widehand("plan", "kept-1", "--json") as planning:
        steps: list[dict[str, Any]] = json.loads(planning.communicate(timeout=60)[0])["steps"]
    assert [tuple(step["pitches"]) for step in steps] == CHORDS
    assert [step["strings"] for step in steps] == strings


def sounded(ear: PortSource, status: int, wanted: set[int], seconds: float = 30.0) -> set[int]:
    """Pitches of the messages of a kind that an ear hears, until these were among them or time is up."""
    found: set[int] = set()
    end_s = time.perf_counter() + seconds
    while not wanted <= found and time.perf_counter() < end_s:
        ear.wait(0.1)
        found |= {message.data[1] for message in ear.poll() if message.data[0] & 0xF0 == status}
    return found


@pytest.mark.slow
@patient
def test_the_target_sounds_on_a_port_when_asked_for(tmp_path: Path) -> None:
    """``--sound PORT``: the key t lets exactly the planned chord be heard there, and it ends."""
    with widehand("plan", DRILL, "--json") as planning:
        first: dict[str, Any] = json.loads(planning.communicate(timeout=60)[0])["steps"][0]
    near, far = os.openpty()
    ear = open_input("target ear", virtual=True)
    try:
        with (
            sender("sound-a"),
            widehand(
                "play", DRILL, "--own-pace", "--port", "sound-a", "--sound", "target ear", "--json",
                "--store", str(tmp_path / "h.sqlite3"), terminal=far,
            ) as playing,
        ):  # fmt: skip
            lines_until(playing, "First:")
            os.write(near, b"t")
            wanted = set(first["pitches"])
            assert sounded(ear, 0x90, wanted) == wanted
            assert sounded(ear, 0x80, wanted) == wanted
            os.write(near, b"q")
            out, err = playing.communicate(timeout=60)
            assert playing.returncode == 0, err
            assert json.loads(out)["attempts"] == []
    finally:
        ear.close()
        os.close(near)
        os.close(far)
