"""``widehand`` as a process of its own, and what is needed to play into it over a real port, to the click it makes."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from typing import Any

from calm import no_longer_than

from listener.cli import main

#: Seconds from now, and the bytes of a message.
Row = tuple[float, Sequence[int]]


def widehand(*words: str, **options: Any) -> subprocess.Popen[str]:
    """The command ``widehand WORDS...``."""
    return subprocess.Popen(
        [sys.executable, "-m", "listener", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        **options,
    )


def report(process: subprocess.Popen[str], timeout_s: float) -> dict[str, Any]:
    """Its JSON document, when it has ended well."""
    out, err = process.communicate(timeout=timeout_s)
    assert process.returncode == 0, err
    found: dict[str, Any] = json.loads(out)
    return found


def printed(*words: str) -> dict[str, Any]:
    """The JSON document of ``widehand WORDS... --json`` in this process, for commands that need no port."""
    with redirect_stdout(io.StringIO()) as out:
        assert main([*words, "--json"]) == 0
    found: dict[str, Any] = json.loads(out.getvalue())
    return found


def wait_for_line(process: subprocess.Popen[str]) -> str:
    """The first line that the program says: it is listening."""
    assert process.stderr is not None
    with no_longer_than(process):
        line = process.stderr.readline()
    assert line
    return line


class Ear:
    """A port that hears the click."""

    def __init__(self, source: Any) -> None:
        self._source = source

    def first_beat_s(self, timeout_s: float = 30.0) -> float:
        """When the next beat came that nobody has asked for yet (perf_counter); what comes with it is passed over."""
        end_s = time.perf_counter() + timeout_s
        while time.perf_counter() < end_s:
            self._source.wait(0.1)
            beats = [message for message in self._source.poll() if message.data[0] & 0xF0 == 0x90]
            if beats:
                return float(beats[0].time_s)
        raise AssertionError("no click was heard")

    def wait_for_silence(self, seconds: float) -> None:
        """Until no beat has come for so long."""
        quiet_s = time.perf_counter()
        while time.perf_counter() < quiet_s + seconds:
            self._source.wait(0.02)
            if self._source.poll():
                quiet_s = time.perf_counter()


@contextmanager
def click_ear(name: str) -> Iterator[Ear]:
    """A virtual input of this name, for ``--click NAME``."""
    from listener.hearing.sources.port import open_input

    source = open_input(name, virtual=True)
    try:
        yield Ear(source)
    finally:
        source.close()


def from_now_s(then_s: float) -> float:
    """A moment of perf_counter as seconds from now."""
    return then_s - time.perf_counter()
