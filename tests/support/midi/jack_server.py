"""A JACK server without sound hardware, and a second process that sends MIDI over it.

``jackd -S`` is needed: JACK's default asynchronous mode loses and doubles MIDI messages under load (seen here).
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from jack_clients import speaks_jack

from listener.errors import SourceError

_PROBE = Path(__file__).with_name("jack_clients.py")
_SENDER = Path(__file__).with_name("midi_sender.py")
_READY_S = 10.0


class Unavailable(Exception):
    """JACK cannot be had here; the text says why."""


@contextmanager
def running_jack(period: int = 64) -> Iterator[str]:
    """Start a server of its own name, make it this process's (and its children's) default, stop it afterwards."""
    _check()
    name = f"widehand-test-{os.getpid()}"
    before = {key: os.environ.get(key) for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER")}
    os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1")
    with tempfile.TemporaryFile("w+") as log:
        server = subprocess.Popen(
            _command(name, period), stdout=log, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL
        )
        try:
            _wait_until_up(server, log)
            yield name
        finally:
            _stop(server)
            for key, value in before.items():
                os.environ.pop(key, None)
                if value is not None:
                    os.environ[key] = value


class MortalServer:
    """A server for tests that stop it under their programs; only processes with its ``environment`` know of it."""

    def __init__(self, name: str) -> None:
        self._name = f"widehand-test-{name}-{os.getpid()}"
        self._process: subprocess.Popen[bytes] | None = None
        self.environment = {**os.environ, "JACK_DEFAULT_SERVER": self._name, "JACK_NO_START_SERVER": "1"}

    def start(self) -> None:
        """Up when this returns; :class:`Unavailable` otherwise."""
        _check()
        with tempfile.TemporaryFile("w+") as log:
            self._process = subprocess.Popen(
                _command(self._name, 64), stdout=log, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL
            )
            _wait_until_up(self._process, log, self.environment)

    def stop(self) -> None:
        """Its clients are not asked; may be called twice."""
        if self._process is not None:
            _stop(self._process)
            self._process = None


def _check() -> None:
    """:class:`Unavailable` when no server can be had."""
    if sys.platform != "linux" or shutil.which("jackd") is None:
        raise Unavailable("jackd is not installed (Debian: apt-get install jackd2)")
    try:
        if not speaks_jack():
            raise Unavailable("this MIDI library was built without JACK")
    except SourceError as reason:
        raise Unavailable(str(reason)) from None


def _command(name: str, period: int) -> list[str]:
    device = ["-d", "dummy", "-r", "48000", "-p", str(period)]
    return ["jackd", "-n", name, "-S", "--no-realtime", "--no-mlock", *device]


def _wait_until_up(server: subprocess.Popen[bytes], log: object, environment: dict[str, str] | None = None) -> None:
    """Ask in a process of its own, so that a half-started server cannot hang this one.

    It takes its leave properly: the server waits 5 s for a client that just vanishes.
    """
    end_s = time.monotonic() + _READY_S
    while time.monotonic() < end_s and server.poll() is None:
        with suppress(subprocess.TimeoutExpired):
            asked = subprocess.run(
                [sys.executable, str(_PROBE)], capture_output=True, timeout=5, check=False, env=environment
            )
            if asked.returncode == 0:
                return
        time.sleep(0.1)
    log.seek(0)  # type: ignore[attr-defined]
    said = " / ".join(log.read().split("\n")[-4:])  # type: ignore[attr-defined]
    raise Unavailable(f"jackd does not start here: {said}")


def _stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(timeout=5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


class Sender:
    """A second process with an open MIDI port, waiting for the word to play."""

    def __init__(self, process: subprocess.Popen[str], port: str) -> None:
        self._process = process
        self.port = port

    def play(self, schedule: Sequence[tuple[float, Sequence[int]]]) -> None:
        """Send messages, each at its time in seconds from now; returns at once."""
        assert self._process.stdin is not None
        rows = [[time_s, list(data)] for time_s, data in schedule]
        self._process.stdin.write(json.dumps(rows) + "\n")
        self._process.stdin.flush()

    def wait(self) -> None:
        """Until everything has been sent."""
        assert self._process.stdout is not None
        assert self._process.stdout.readline().strip() == "sent"


@contextmanager
def sender(port: str, environment: dict[str, str] | None = None) -> Iterator[Sender]:
    """A process that offers an output port of this name on the running server, or on the environment's."""
    command = [sys.executable, str(_SENDER), port]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
    ) as process:
        try:
            assert process.stdout is not None
            if process.stdout.readline().strip() != "open":
                raise RuntimeError("the sending process could not open its port")
            yield Sender(process, port)
        finally:
            if process.stdin is not None:
                with suppress(OSError):
                    process.stdin.close()
            with suppress(subprocess.TimeoutExpired):
                process.wait(timeout=5)
            process.kill()
