"""The loop that runs a take: polls the source and the keys, passes time on, lets the click sound, shows and keeps.

Everything it touches is handed in, so that a real session, the demo and the tests run the very same lines.
"""

from __future__ import annotations

import gc
import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import FrameType
from typing import Final, Protocol

from listener.hearing.events import Message
from listener.judging.verdict import Verdict
from listener.session.clock import Clock
from listener.session.line import Line
from listener.session.practice import Practice
from listener.session.state import Snapshot

#: Keys and screen are looked after this often (seconds) when nothing else happens.
_IDLE_S: Final = 0.02
#: A source that has run out ends a take at own pace after this long (seconds): everything that rings has been judged.
_AFTER_LAST_S: Final = 1.0


class Source(Protocol):
    """Where messages come from; times are on the clock that the loop is given."""

    @property
    def finished(self) -> bool:
        """Nothing more will come."""

    def poll(self) -> list[Message]:
        """What has come since the last call."""

    def wait(self, timeout_s: float) -> None:
        """Return when something has come, or after the timeout."""


class Screen(Protocol):
    """What shows a snapshot."""

    def show(self, snapshot: Snapshot) -> None:
        """Draw it, if anything has changed."""


class Keys(Protocol):
    """The keys that were pressed, as words: pause, again, next, slower, faster, quit."""

    def read(self) -> list[str]:
        """The words since the last call."""


class ClickOutput(Protocol):
    """A MIDI output port."""

    def send(self, data: bytes) -> None:
        """Send one message."""


class Recorder(Protocol):
    """What keeps a take."""

    def keep(self, verdict: Verdict, messages: Sequence[Message]) -> None:
        """Keep one settled verdict, durably, with the messages since the last one."""

    def finish(self, practice: Practice) -> None:
        """The take is over."""

    @property
    def trouble(self) -> str:
        """One line for the player when keeping goes wrong; empty when all is well."""


@dataclass(frozen=True)
class Ending:
    """How a take ended: ``wish`` is "", or the key that ended it (again, slower, faster, quit), or "interrupted"."""

    practice: Practice
    wish: str


@dataclass
class Interrupt:
    """Set by Ctrl-C and by a terminal that goes away; the loop looks at it between two messages, never inside one."""

    raised: bool = False


@contextmanager
def interrupts() -> Iterator[Interrupt]:
    """Turn SIGINT, SIGTERM and SIGHUP into a flag while a take runs, so that none can tear a verdict in two."""
    flag = Interrupt()

    def raised(_number: int, _frame: FrameType | None) -> None:
        flag.raised = True

    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), raised) for name in names}
    try:
        yield flag
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


@contextmanager
def _collector_at_ease() -> Iterator[None]:
    """What is there when a take begins is there when it ends: while it runs, Python's garbage collector need not look
    at all of it again, which would hold up a note for ten milliseconds and more (measured)."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def run_take(
    practice: Practice,
    source: Source,
    clock: Clock,
    *,
    start_s: float,
    screen: Screen,
    keys: Keys,
    click: ClickOutput | None,
    recorder: Recorder | None,
    interrupt: Interrupt,
) -> Ending:
    """Run one take to its end. ``start_s`` is the clock's time at the take's zero."""
    with _collector_at_ease():
        return _run(practice, source, clock, start_s, screen, keys, click, recorder, interrupt)


def _run(
    practice: Practice,
    source: Source,
    clock: Clock,
    start_s: float,
    screen: Screen,
    keys: Keys,
    click: ClickOutput | None,
    recorder: Recorder | None,
    interrupt: Interrupt,
) -> Ending:
    line = Line(source)
    take = _Take(practice, screen, click, recorder, line)
    wish = ""
    idle_since: float | None = None
    while not practice.ended:
        # The clock is read before the source is asked: what the source gives out later is not older than that, so a
        # tick never gets ahead of a message that is still on its way.
        now_s = clock.now() - start_s
        for message in source.poll():
            placed = replace(message, time_s=message.time_s - start_s)
            take.judged(practice.feed(placed), max(now_s, placed.time_s))
        take.judged(line.follow(practice, now_s) + practice.tick(now_s), now_s)
        take.sound(now_s)
        wish = "interrupted" if interrupt.raised else take.obey(keys.read(), now_s)
        if source.finished and practice.settings.tempo is None:
            idle_since = now_s if idle_since is None else idle_since
            if now_s - idle_since > _AFTER_LAST_S:
                take.judged(practice.end(now_s), now_s)
        if wish:
            take.judged(practice.end(now_s), now_s)
        screen.show(practice.snapshot(now_s, take.note))
        if not practice.ended:
            clock.wait(source, _until_next(practice, now_s))
    if recorder is not None:
        recorder.finish(practice)
    return Ending(practice, wish)


def _until_next(practice: Practice, now_s: float) -> float:
    click_s = practice.next_click_s()
    return _IDLE_S if click_s is None else min(_IDLE_S, max(0.0005, click_s - now_s))


class _Take:
    """The take's outward effects."""

    def __init__(
        self,
        practice: Practice,
        screen: Screen,
        click: ClickOutput | None,
        recorder: Recorder | None,
        line: Line,
    ) -> None:
        self._practice = practice
        self._screen = screen
        self._click = click
        self._recorder = recorder
        self._line = line
        self._kept_messages = 0

    @property
    def note(self) -> str:
        """What the player must know now: about keeping first, then about the port."""
        trouble = self._recorder.trouble if self._recorder is not None else ""
        return trouble or self._line.note

    def judged(self, verdicts: Sequence[Verdict], now_s: float) -> None:
        """Keep first, then show: what the player has seen as settled is on the disk."""
        for verdict in verdicts:
            if verdict.settled and self._recorder is not None:
                messages = self._practice.messages_since(self._kept_messages)
                self._recorder.keep(verdict, messages)
                self._kept_messages += len(messages)
        if verdicts:
            self._screen.show(self._practice.snapshot(now_s, self.note))

    def sound(self, now_s: float) -> None:
        """The click."""
        for beat in self._practice.clicks(now_s):
            if self._click is not None:
                for data in beat.messages():
                    self._click.send(data)

    def obey(self, words: Sequence[str], now_s: float) -> str:
        """Do what the keys say; a word that ends the take is given back."""
        for word in words:
            if word == "pause":
                self.judged(self._practice.pause_or_resume(now_s), now_s)
            elif word == "next":
                self.judged(self._practice.next_passage(now_s), now_s)
            elif word in ("again", "quit") or (word in ("slower", "faster") and self._practice.settings.tempo):
                return word
        return ""
