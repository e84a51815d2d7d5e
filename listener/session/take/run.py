"""The loop that runs a take: polls the source and the keys, passes time on, lets the click sound, shows and keeps.

Everything it touches is handed in, so that a real session, the demo and the tests run the very same lines.
"""

from __future__ import annotations

import gc
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import FrameType
from typing import Final, Protocol

from listener.hearing.events import Message
from listener.judging.verdict import Verdict
from listener.session.companion import Companion
from listener.session.sound.sounds import Sounds
from listener.session.take.clock import Clock
from listener.session.take.closing import TOLD_TO_END, told_of_closing
from listener.session.take.line import GuitarLine
from listener.session.take.practice import Practice
from listener.session.take.state import Snapshot

#: A source that has run out ends a take at own pace, or one that waits for somebody to play, after this long (seconds):
#: everything that rings has been judged.
_AFTER_LAST_S: Final = 1.0


#: What was said of keeping stays on the screen for so long (seconds).
_SAID_S: Final = 30.0


class Source(Protocol):
    """Where messages come from; times are on the clock that the loop is given."""

    @property
    def finished(self) -> bool:
        """Nothing more will come."""

    def poll(self) -> list[Message]:
        """What has come since the last call."""

    def wait(self, timeout_s: float) -> None:
        """Return when something has come, or after the timeout."""


class TakeScreen(Protocol):
    """What shows a snapshot."""

    def show(self, snapshot: Snapshot) -> None:
        """Draw it, if anything has changed."""


class Keys(Protocol):
    """The keys that were pressed, as words: pause, again, back, next, slower, faster, target, keep, quit; and hold,
    when the program is about to be stopped."""

    def read(self) -> list[str]:
        """The words since the last call."""


class Recorder(Protocol):
    """What keeps a take."""

    def keep(self, verdict: Verdict, messages: Sequence[Message]) -> None:
        """Keep one settled verdict, durably, with the messages since the last one."""

    def keep_messages(self, messages: Sequence[Message]) -> None:
        """Keep messages that no verdict is about, durably."""

    def finish(self, practice: Practice) -> None:
        """The take is over."""

    @property
    def trouble(self) -> str:
        """One line for the player when keeping goes wrong; empty when all is well."""


#: Makes a drill of the last passage of a take; a line for the player.
Keep = Callable[[Practice], str]


@dataclass(frozen=True)
class Ending:
    """How a take ended: ``wish`` is "", or the key that ended it (again, slower, faster, quit), or "interrupted"."""

    practice: Practice
    wish: str


@dataclass
class Interrupt:
    """Set by Ctrl-C, and by whatever else ends a program in an orderly way; the loop looks at it between two messages,
    never inside one."""

    raised: bool = False


@contextmanager
def interrupts() -> Iterator[Interrupt]:
    """Turn signals that end a program, and a console that is closed, into a flag while a take runs, so that none can
    tear a verdict in two. Whoever presses Ctrl-\\ (SIGQUIT) again will not wait for the end of the take."""
    flag = Interrupt()

    def raise_flag() -> None:
        flag.raised = True

    def raised(number: int, _frame: FrameType | None) -> None:
        if flag.raised and number == getattr(signal, "SIGQUIT", None):
            raise SystemExit(128 + number)
        raise_flag()

    names = [name for name in ("SIGINT", *TOLD_TO_END) if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), raised) for name in names}
    try:
        with told_of_closing(raise_flag):
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
    screen: TakeScreen,
    keys: Keys,
    recorder: Recorder | None,
    interrupt: Interrupt,
    sounds: Sounds | None = None,
    companion: Companion | None = None,
    keep: Keep | None = None,
) -> Ending:
    """Run one take to its end. ``start_s`` is the clock's time at the take's zero. ``keep`` makes a drill of what was
    just played.

    ``sounds`` is what the program makes heard, nothing when not given; whatever it began to sound has ended when this
    returns or raises. ``companion`` is told of every verdict and may add to what is shown.
    """
    try:
        with _collector_at_ease():
            line, heard, told = GuitarLine(source), sounds or Sounds(), companion or Companion()
            take = _Take(practice, screen, heard, recorder, line, told, start_s, keep)
            return take.run(source, clock, keys, interrupt)
    finally:
        heard.silence()


def _until_next(practice: Practice, sounds: Sounds, now_s: float, idle_s: float) -> float:
    due_s = [time_s for time_s in (practice.next_click_s(), sounds.next_s()) if time_s is not None]
    return min(idle_s, max(0.0005, min(due_s) - now_s)) if due_s else idle_s


class _Take:
    """The take's outward effects."""

    def __init__(
        self,
        practice: Practice,
        screen: TakeScreen,
        sounds: Sounds,
        recorder: Recorder | None,
        line: GuitarLine,
        companion: Companion,
        start_s: float,
        keep: Keep | None = None,
    ) -> None:
        self._keep = keep
        #: What was said of keeping, and until when it is shown.
        self._said, self._said_until_s = "", 0.0
        self._practice = practice
        self._screen = screen
        self._sounds = sounds
        self._recorder = recorder
        self._line = line
        self._companion = companion
        self._start_s = start_s
        self._kept_messages = 0
        self._heard = 0

    def run(self, source: Source, clock: Clock, keys: Keys, interrupt: Interrupt) -> Ending:
        """All of it, to its end."""
        practice, wish = self._practice, ""
        idle_since: float | None = None
        while not practice.ended:
            # The clock is read before the source is asked: what the source gives out later is not older than that, so
            # a tick never gets ahead of a message that is still on its way.
            now_s = clock.now() - self._start_s
            for message in source.poll():
                placed = message._replace(time_s=message.time_s - self._start_s)
                self.judged(practice.feed(placed), max(now_s, placed.time_s))
            self.judged(self._line.follow(practice, now_s) + practice.tick(now_s), now_s)
            self.keep_heard()
            self._sounds.follow(practice, now_s)
            wish = "interrupted" if interrupt.raised else self.obey(keys.read(), now_s)
            if source.finished and (practice.settings.tempo is None or practice.waits):
                idle_since = now_s if idle_since is None else idle_since
                if now_s - idle_since > _AFTER_LAST_S:
                    self.judged(practice.end(now_s), now_s)
            if wish:
                self._companion.broken_off = True
                self.judged(practice.end(now_s), now_s)
            self._screen.show(self.snapshot(now_s))
            if not practice.ended:
                clock.wait(source, _until_next(practice, self._sounds, now_s, clock.idle_s))
        if self._recorder is not None:
            self._recorder.finish(practice)
        return Ending(practice, wish)

    def note(self, now_s: float) -> str:
        """What the player must know now: about keeping first, then about the port, then what was asked for."""
        trouble = self._recorder.trouble if self._recorder is not None else ""
        said = self._said if now_s < self._said_until_s else ""
        return trouble or self._line.note or self._sounds.trouble or said

    def snapshot(self, now_s: float) -> Snapshot:
        """What the screen should show now."""
        shown = self._practice.snapshot(now_s, self.note(now_s))
        if self._sounds.can_sound:
            shown = replace(shown, can_sound=True)
        return self._companion.dressed(shown, self._start_s + now_s)

    def judged(self, verdicts: Sequence[Verdict], now_s: float) -> None:
        """Keep first, then show: what the player has seen as settled is on the disk."""
        for verdict in verdicts:
            if verdict.settled:
                if self._recorder is not None:
                    self._recorder.keep(verdict, self._fresh_messages())
                self._companion.judged(self._practice.plan, verdict, self._start_s + verdict.onset_s)
        if verdicts:
            self._screen.show(self.snapshot(now_s))

    def keep_heard(self) -> None:
        """In free listening there are no verdicts: keep what belongs to each chord as it is named."""
        chords = self._practice.chords
        for chord in chords[self._heard :]:
            self._companion.heard(self._start_s + chord.onset_s)
        if len(chords) > self._heard and self._recorder is not None:
            self._recorder.keep_messages(self._fresh_messages())
        self._heard = len(chords)

    def _fresh_messages(self) -> list[Message]:
        messages = self._practice.messages_since(self._kept_messages)
        self._kept_messages += len(messages)
        return messages

    def obey(self, words: Sequence[str], now_s: float) -> str:
        """Do what the keys say; a word that ends the take is given back. Who leaves has no further wish."""
        if "quit" in words:
            return "quit"
        for word in words:
            if word == "hold" and not self._practice.paused:
                word = "pause"
            if word not in self.snapshot(now_s).keys:
                continue
            if word == "target":
                self._sounds.sound(self._practice, now_s)
            elif word == "keep":
                if self._keep is not None:
                    self._said, self._said_until_s = self._keep(self._practice), now_s + _SAID_S
            elif word == "pause":
                self.judged(self._practice.pause_or_resume(now_s), now_s)
            elif word == "next":
                self.judged(self._practice.next_passage(now_s), now_s)
            elif word == "back":
                self.judged(self._practice.passage_before(now_s), now_s)
            else:
                return word
        return ""
