"""Time for the practice loop: the real clock, or one that jumps so that a demo need not be waited for."""

from __future__ import annotations

import time
from typing import Final, Protocol

#: Keys and screen are looked after this often (seconds) when nothing else happens.
IDLE_S: Final = 0.02
#: This often where nobody looks on; verdicts do not depend on how often time is told.
UNWATCHED_S: Final = 0.1


class Waiting(Protocol):
    """Something that can be waited on, such as a source of messages."""

    def wait(self, timeout_s: float) -> None:
        """Return when something has come, or after the timeout."""


class Clock(Protocol):
    """Seconds that only go forward."""

    @property
    def idle_s(self) -> float:
        """The longest step of the loop (seconds)."""

    def now(self) -> float:
        """Seconds since an arbitrary moment."""

    def wait(self, source: Waiting, timeout_s: float) -> None:
        """Let time pass until the source has something, at most ``timeout_s``."""


class RealClock:
    """``time.perf_counter``, the clock that MIDI ports stamp their messages with."""

    idle_s = IDLE_S

    def now(self) -> float:
        """Seconds."""
        return time.perf_counter()

    def wait(self, source: Waiting, timeout_s: float) -> None:
        """Sleep until the source has something."""
        source.wait(timeout_s)


class JumpingClock:
    """Time that passes as fast as the program can follow."""

    def __init__(self, idle_s: float = IDLE_S) -> None:
        self.idle_s = idle_s
        self._now_s = 0.0

    def now(self) -> float:
        """Seconds since it was made."""
        return self._now_s

    def wait(self, source: Waiting, timeout_s: float) -> None:
        """Jump ahead."""
        self._now_s += timeout_s
