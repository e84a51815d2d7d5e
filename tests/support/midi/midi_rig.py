"""A whole take over real MIDI with every moment stamped: another process plays, the dashboard is drawn on a
pseudo-terminal, verdicts are kept in a history."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TextIO

from jack_clients import jack_input
from rich.console import Console

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_input
from listener.history.store.store import Store
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.screen.practice.live import LiveScreen
from listener.screen.theme import Theme
from listener.session.take.clock import RealClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder, utc_now
from listener.session.take.run import Interrupt, run_take
from listener.session.take.state import Snapshot

Row = tuple[float, tuple[int, ...]]
_SENDER = Path(__file__).with_name("midi_timed_sender.py")


class TimedSender:
    """A second process that plays and says when it really did."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def play(self, schedule: Sequence[Row]) -> None:
        """Begin; returns at once."""
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps([[at_s, list(data)] for at_s, data in schedule]) + "\n")
        self._process.stdin.flush()

    def sent_s(self) -> list[float]:
        """When each message was sent (perf_counter); waits for the last."""
        assert self._process.stdout is not None
        found: list[float] = json.loads(self._process.stdout.readline())
        return found


@contextmanager
def timed_sender(port: str) -> Iterator[TimedSender]:
    command = [sys.executable, str(_SENDER), port]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        assert process.stdout.readline().strip() == "open"
        try:
            yield TimedSender(process)
        finally:
            process.stdin.close()
            process.wait(timeout=10)


class _StampedFile:
    """A terminal that knows when bytes were last written to it."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self.written_s = 0.0

    def write(self, text: str) -> int:
        count = self._file.write(text)
        self._file.flush()
        self.written_s = time.perf_counter()
        return count

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


@dataclass
class Moments:
    """Per verdict: when its last message arrived in the callback, when the verdict was there, when it was written."""

    start_s: float = 0.0
    arrived_s: list[float] = field(default_factory=list)
    judged_s: list[float] = field(default_factory=list)
    written_s: list[float] = field(default_factory=list)


class _Practice(Practice):
    """Stamps the first verdict on each step."""

    moments: Moments
    start_s: float
    seen: set[int]

    def feed(self, message: Message) -> list[Verdict]:
        found = super().feed(message)
        for verdict in found:
            if verdict.step not in self.seen:
                self.seen.add(verdict.step)
                self.moments.arrived_s.append(message.time_s + self.start_s)
                self.moments.judged_s.append(time.perf_counter())
        return found


class _Screen:
    """Shows, and stamps the writing of every verdict that was stamped before."""

    def __init__(self, screen: LiveScreen, file: _StampedFile, moments: Moments) -> None:
        self._screen, self._file, self._moments = screen, file, moments

    def show(self, snapshot: Snapshot) -> None:
        before_s = self._file.written_s
        self._screen.show(snapshot)
        moments = self._moments
        if len(moments.written_s) < len(moments.judged_s) and self._file.written_s > before_s:
            moments.written_s += [self._file.written_s] * (len(moments.judged_s) - len(moments.written_s))


class _Keys:
    """Nobody presses anything, until all messages are there."""

    def __init__(self, practice: Practice, count: int, end_s: float) -> None:
        self._practice, self._count, self._end_s = practice, count, end_s

    def read(self) -> list[str]:
        there = len(self._practice.messages_since(0)) >= self._count if time.perf_counter() > self._end_s else False
        late = time.perf_counter() > self._end_s + 5
        return ["quit"] if there or late else []


@contextmanager
def terminal() -> Iterator[_StampedFile]:
    """The near end of a pseudo-terminal whose far end is read by another process."""
    master, slave = os.openpty()
    reader = subprocess.Popen(["cat"], stdin=master, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(master)
    with os.fdopen(slave, "w", encoding="utf-8") as file:
        yield _StampedFile(file)
    reader.wait(timeout=10)


def run_rig(plan: Plan, port: str, schedule: Sequence[Row], folder: Path) -> tuple[Practice, Moments, list[float]]:
    """Let another process play the schedule into a take; the take, its moments and when each message was sent."""
    moments = Moments()
    switch_s = sys.getswitchinterval()
    sys.setswitchinterval(0.0005)  # as a sitting does
    try:
        with timed_sender(port) as guitar, terminal() as file, Store.open(folder / "rig.sqlite3") as store:
            source = open_input(port)
            try:
                practice = _Practice(plan, make_pickup("per-string"), TakeSettings(tempo=None, source=source.name))
                practice.moments, practice.seen = moments, set()
                practice.start_s = moments.start_s = start_s = time.perf_counter()
                recorder = StoreRecorder(store, Session(store, utc_now()), practice, seed=None)
                console = Console(file=file, force_terminal=True, width=100, height=30, color_system="256")  # type: ignore[arg-type]
                guitar.play(schedule)
                end_s = time.perf_counter() + schedule[-1][0] + 0.1
                with LiveScreen(console, theme=Theme()) as screen:
                    run_take(
                        practice,
                        source,
                        RealClock(),
                        start_s=start_s,
                        screen=_Screen(screen, file, moments),
                        keys=_Keys(practice, len(schedule), end_s),
                        recorder=recorder,
                        interrupt=Interrupt(),
                    )
                assert source.lost == 0
                return practice, moments, guitar.sent_s()
            finally:
                source.close()
    finally:
        sys.setswitchinterval(switch_s)


def raw_times(port: str, schedule: Sequence[Row]) -> tuple[list[float], list[float], list[float]]:
    """The same into the bare MIDI library: when each message was sent, when its callback ran, and when a main thread
    that does nothing else had it out of a queue."""
    queue: SimpleQueue[float] = SimpleQueue()
    arrived_s: list[float] = []
    taken_s: list[float] = []
    with timed_sender(port) as guitar:
        source = jack_input("raw reference")
        source.listen(lambda _data: queue.put(time.perf_counter()))
        names = source.ports()
        source.open_port(next(n for n, name in enumerate(names) if port in name), "in")
        guitar.play(schedule)
        end_s = time.perf_counter() + schedule[-1][0] + 5
        while len(taken_s) < len(schedule) and time.perf_counter() < end_s:
            with suppress(Empty):
                arrived_s.append(queue.get(timeout=0.02))
                taken_s.append(time.perf_counter())
        sent_s = guitar.sent_s()
        source.release()
    return sent_s, arrived_s, taken_s
