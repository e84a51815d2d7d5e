"""The MIDI server dies in the middle of a take and is started again: said, waited for, taken up, nothing lost.

Each test has a server of its own, so that no other test loses its.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from calm import no_longer_than, patient
from jack_server import MortalServer, Sender, Unavailable, sender

from listener.hearing.take_file import Take, read_take

DRILL = "mill-verse"
pytestmark = [pytest.mark.jack, pytest.mark.slow]
#: Something with an input that the click can go to; it stays until its own input ends.
_EAR = f"""
import sys
sys.path.insert(0, {str(Path(__file__).parents[1] / "support" / "midi")!r})
from jack_clients import jack_input
ear = jack_input("ear client")
ear.open_virtual_port("click ear")
print("open", flush=True)
sys.stdin.read()
ear.release()
"""
Row = tuple[float, tuple[int, ...]]


@contextmanager
def mortal(name: str) -> Iterator[MortalServer]:
    server = MortalServer(name)
    try:
        server.start()
        yield server
    except Unavailable as reason:
        pytest.skip(str(reason))
    finally:
        server.stop()


@contextmanager
def process(server: MortalServer, *words: str) -> Iterator[subprocess.Popen[str]]:
    """A Python on the server, gone in the end whatever happens."""
    with subprocess.Popen(
        [sys.executable, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        bufsize=1,
        env=server.environment,
    ) as started:
        try:
            yield started
        finally:
            started.kill()


@contextmanager
def ear(server: MortalServer) -> Iterator[subprocess.Popen[str]]:
    with process(server, "-c", _EAR) as started:
        assert started.stdout is not None
        with no_longer_than(started):
            assert started.stdout.readline() == "open\n"
        yield started


def said(playing: subprocess.Popen[str], words: str) -> list[str]:
    """Wait for a line with these words; all lines up to it."""
    assert playing.stderr is not None
    lines = []
    with no_longer_than(playing):
        for line in playing.stderr:
            lines.append(line)
            if words in line:
                return lines
    raise AssertionError(f"it never said {words!r}: {lines}")


def chords(steps: list[dict[str, Any]]) -> list[Row]:
    """Planned chords as a pickup with one channel for each string sends them."""
    rows: list[Row] = []
    for number, step in enumerate(steps):
        at_s = 0.3 + 0.4 * number
        for pitch, string in zip(step["pitches"], step["strings"], strict=True):
            rows += [(at_s, (0x90 | string - 1, pitch, 90)), (at_s + 0.25, (0x80 | string - 1, pitch, 0))]
    return sorted(rows)


def play(guitar: Sender, rows: list[Row]) -> None:
    guitar.play(rows)
    guitar.wait()
    time.sleep(0.2)


def kept(folder: Path) -> Take:
    (take,) = (folder / "takes").glob("*.mid")
    return read_take(take.read_bytes(), take.name)


@patient
def test_a_take_outlives_its_server(tmp_path: Path) -> None:
    """It is told what to do; once the server is back and the guitar on it, the take goes on where it was, and every
    chord of before and after is a hit. The server's library writes nothing in between."""
    with mortal("outlived") as server:
        with process(server, "-m", "listener", "plan", DRILL, "--json") as planning:
            steps = json.loads(planning.communicate(timeout=60)[0])["steps"]
        half = len(steps) // 2
        store = str(tmp_path / "history.sqlite3")
        words = ("--own-pace", "--port", "plug-s", "--pickup", "per-string", "--store", store, "--json")
        with (
            sender("plug-s", server.environment) as guitar,
            process(server, "-m", "listener", "play", DRILL, *words) as playing,
        ):
            said(playing, "First:")
            play(guitar, chords(steps[:half]))
            server.stop()
            lines = said(playing, "the MIDI server stopped; start it again")
            guitar._process.kill()
            server.start()
            lines += said(playing, "'plug-s client:plug-s' has gone")
            with sender("plug-s", server.environment) as again:
                lines += said(playing, "Going on")
                play(again, chords(steps[half:]))
                out, err = playing.communicate(timeout=60)
        assert playing.returncode == 0, err
    assert [(one["step"], one["grade"]) for one in json.loads(out)["attempts"]] == [
        (n, "hit") for n in range(len(steps))
    ]
    assert not [line for line in lines if "jack" in line.lower() or "socket" in line]
    take = kept(tmp_path)
    assert [mark.word for mark in take.marks][:3] == ["pause", "port gone", "port back"]
    sounded = [message.data for message in take.messages if message.data[0] & 0xF0 == 0x90]
    assert sounded == [data for _, data in chords(steps) if data[0] & 0xF0 == 0x90]


@patient
@pytest.mark.parametrize("returns", [False, True], ids=["gone", "back"])
def test_who_leaves_after_it_died_keeps_what_was_played(tmp_path: Path, returns: bool) -> None:
    """With a click on the same server: the program ends at once and in good order, the server being there or not."""
    notes = [(0.3, (0x90, 64, 90)), (0.6, (0x80, 64, 0))]
    with mortal("left") as server, ear(server) as listener, sender("plug-t", server.environment) as guitar:
        store = str(tmp_path / "history.sqlite3")
        words = ("--tempo", "60", "--port", "plug-t", "--pickup", "per-string", "--store", store)
        with process(server, "-m", "listener", "play", DRILL, *words, "--click", "click ear", "--json") as playing:
            said(playing, "First:")
            play(guitar, notes)
            server.stop()
            said(playing, "the MIDI server stopped; start it again")
            if returns:
                for stranded in (
                    listener,
                    guitar._process,
                ):  # of the same names as those to come: they would be in the way
                    stranded.kill()
                    stranded.wait()
                server.start()
                with ear(server), sender("plug-t", server.environment):
                    said(playing, "Going on")
                    time.sleep(1.5)  # the click has to be sent again meanwhile
            playing.send_signal(signal.SIGINT)
            err = playing.communicate(timeout=30)[1]
            assert playing.returncode == 130, err
    assert "does not take" not in err
    assert [message.data for message in kept(tmp_path).messages][: len(notes)] == [data for _, data in notes]
