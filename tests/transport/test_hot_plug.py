"""Pulling the plug over real MIDI: the sending process ends in the middle of a take and is started again.

A JACK server takes about five seconds to notice that a process was killed, so those tests are slow.
"""

from __future__ import annotations

import json
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from calm import no_longer_than, patient
from jack_server import Sender, sender
from port_player import widehand

from listener.hearing.sources.port import PortSource, open_input
from listener.hearing.take_file import Take, read_take

DRILL = "mill-verse"
pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]
Row = tuple[float, tuple[int, ...]]


def pull_the_plug(guitar: Sender) -> None:
    """The process ends at once, without taking leave."""
    guitar._process.kill()
    guitar._process.wait()


def until(source: PortSource, condition: Callable[[], bool], timeout_s: float = 15.0) -> list[tuple[int, ...]]:
    """Poll as the loop does until the condition holds; what came meanwhile."""
    found: list[tuple[int, ...]] = []
    end_s = time.perf_counter() + timeout_s
    while not condition():
        assert time.perf_counter() < end_s, "it did not happen"
        source.wait(0.02)
        found += [message.data for message in source.poll()]
    return found


def sent(source: PortSource, guitar: Sender, data: tuple[int, ...]) -> list[tuple[int, ...]]:
    """What arrives when this is sent, up to the first message and a moment longer."""
    guitar.play([(0.0, data)])
    guitar.wait()
    source.wait(5.0)
    end_s = time.perf_counter() + 0.2
    return until(source, lambda: time.perf_counter() > end_s)


SILENCE = (0xB2, 120, 0)


@patient
def test_a_sender_that_leaves_is_missed_and_its_next_life_is_heard() -> None:
    """Its notes end, and it is heard again as soon as it is back; twice over."""
    name = "plug-a"
    with sender(name) as guitar:
        source = open_input(name)
        heard = sent(source, guitar, (0x92, 60, 100))
    try:
        for pitch in (61, 62):
            heard += until(source, lambda: source.missing)
            with sender(name) as guitar:
                heard += until(source, lambda: not source.missing)
                heard += sent(source, guitar, (0x92, pitch, 100))
    finally:
        source.close()
    assert heard == [(0x92, 60, 100), SILENCE, (0x92, 61, 100), SILENCE, (0x92, 62, 100)]


def chord(start_s: float, step: dict[str, Any]) -> list[Row]:
    """A planned chord as a pickup with one channel for each string sends it."""
    rows: list[Row] = []
    for pitch, string in zip(step["pitches"], step["strings"], strict=True):
        rows += [(start_s, (0x90 | string - 1, pitch, 90)), (start_s + 0.25, (0x80 | string - 1, pitch, 0))]
    return sorted(rows)


def kept(folder: Path) -> Take:
    (take,) = (folder / "takes").glob("*.mid")
    return read_take(take.read_bytes(), take.name)


def said(process: subprocess.Popen[str], words: str) -> None:
    """Wait for a line with these words among what the program tells."""
    assert process.stderr is not None
    with no_longer_than(process):
        for line in process.stderr:
            if words in line:
                return
    raise AssertionError(f"it never said {words!r}")


@pytest.mark.slow
@patient
def test_a_take_outlives_its_guitar(tmp_path: Path) -> None:
    """Killed in the middle of a chord and started again: it is said, the take pauses and goes on where it was, every
    chord is a hit, and everything that was played before and after is in the take, with what happened in between."""
    plan = json.loads(widehand("plan", DRILL, "--json").communicate(timeout=30)[0])
    steps = plan["steps"]
    half = len(steps) // 2
    name = "plug-b"
    with sender(name) as guitar:
        playing = widehand(
            "play", DRILL, "--own-pace", "--port", name, "--pickup", "per-string",
            "--store", str(tmp_path / "history.sqlite3"), "--json",
        )  # fmt: skip
        said(playing, "First:")
        before = sorted(row for n in range(half) for row in chord(0.3 + 0.4 * n, steps[n]))
        open_note = (before[-1][0] + 0.2, (0x95, 40, 100))
        guitar.play([*before, open_note])
        guitar.wait()
        time.sleep(0.2)
        pull_the_plug(guitar)
    said(playing, "has gone")
    with sender(name) as guitar:
        said(playing, "Going on")
        after = sorted(row for n in range(half, len(steps)) for row in chord(0.3 + 0.4 * (n - half), steps[n]))
        guitar.play(after)
        out, err = playing.communicate(timeout=60)
    assert playing.returncode == 0, err
    attempts = json.loads(out)["attempts"]
    extra = [one for one in attempts if one["grade"] != "hit"]
    assert [one["step"] for one in attempts if one["grade"] == "hit"] == list(range(len(steps)))
    assert [one["heard"] for one in extra] in ([], [[40]])
    take = kept(tmp_path)
    played = [data for _, data in [*before, open_note]]
    silence = [(0xB0 | channel, 120, 0) for channel in sorted({data[0] & 15 for data in played})]
    expected = [*played, *silence, *(data for _, data in after)]
    found = [message.data for message in take.messages]
    # The take ends with the verdict on the last chord, before its note-offs.
    assert found == expected[: len(found)]
    assert len(expected) - len(found) <= len(steps[-1]["pitches"])
    words = [mark.word for mark in take.marks]
    assert words[:3] == ["pause", "port gone", "port back"]
    assert words[3].startswith("step ")
