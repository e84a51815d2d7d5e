"""``widehand ports --watch`` with a second process that plucks the open strings."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections.abc import Sequence

import pytest
from calm import no_longer_than, patient
from jack_server import sender

OPEN = (40, 45, 50, 55, 59, 64, 40, 40)


def watching(*words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "listener", "ports", "--watch", *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, bufsize=1,
    )  # fmt: skip


def plucks(channels: Sequence[int]) -> list[tuple[float, tuple[int, ...]]]:
    rows: list[tuple[float, tuple[int, ...]]] = [(0.0, (0xE0 | channels[0] - 1, 0, 65))]
    for number, (channel, pitch) in enumerate(zip(channels, OPEN, strict=False)):
        rows.append((0.1 + 0.2 * number, (0x90 | channel - 1, pitch, 90)))
        rows.append((0.2 + 0.2 * number, (0x80 | channel - 1, pitch, 0)))
    return rows


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_what_arrives_is_shown_and_the_profile_proposed() -> None:
    """Piped: a line for each note with port, channel, name, velocity and bend; then the profile; Ctrl-C ends it."""
    with sender("watched-a") as guitar:
        process = watching("watched-a", "--pickup", "per-string from 11")
        assert process.stdout is not None
        assert "Pluck each open string once" in process.stdout.readline()
        guitar.play(plucks((16, 15, 14, 13, 12, 11, 16, 16)))
        lines = []
        with no_longer_than(process):
            for line in process.stdout:
                lines.append(line)
                if sum("velocity" in one for one in lines) == len(OPEN):
                    break
        process.send_signal(signal.SIGINT)
        rest, err = process.communicate(timeout=20)
    assert (process.returncode, err) == (130, "")
    notes = [line for line in lines if "velocity" in line]
    assert "watched-a" in notes[0]
    assert "channel 16 (string 6)  E2   ( 40)  velocity  90  bend   +3.1 cents" in notes[0]
    assert "channel 11 (string 1)  E4   ( 64)  velocity  90  bend   +0.0 cents" in notes[5]
    assert any("profile" in line and "'per-string from 11'" in line for line in lines)
    assert "The profile is 'per-string from 11': widehand play DRILL --port 'watched-a" in rest


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_json_at_the_end_and_nothing_else() -> None:
    """``--seconds`` ends it with exit code 0; what was unclear is among the remarks."""
    with sender("watched-b") as guitar:
        process = watching("watched-b", "--seconds", "4", "--json")
        assert process.stderr is not None
        process.stderr.readline()
        guitar.play(plucks((1, 2, 3)))
        out, _ = process.communicate(timeout=20)
    assert process.returncode == 0
    found = json.loads(out)
    assert found["port"].endswith("watched-b")
    assert (found["profile"], found["sure"], found["messages"]) == (None, False, 7)
    assert [pluck["name"] for pluck in found["plucks"]] == ["E2", "A2", "D3"]
    assert "3 of 6 strings so far" in found["remarks"][0]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["ports", "--seconds", "3"], 2, "--seconds and --pickup belong to --watch"),
        (["ports", "--pickup", "single"], 2, "--seconds and --pickup belong to --watch"),
        (["ports", "--watch", "x", "--pickup", "hexa"], 1, "no pickup profile 'hexa'"),
    ],
)
def test_bad_options_are_one_line(words: list[str], code: int, said: str) -> None:
    """No traceback, the right exit code, before any port is asked for."""
    done = subprocess.run([sys.executable, "-m", "listener", *words], capture_output=True, text=True, timeout=30)
    assert done.returncode == code
    assert said in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
