"""The callback that an input gives its MIDI library, and how it is taken away again while messages come.

Both libraries deliver in the MIDI system's thread, which waits for Python's lock, and both close a port without letting
go of that lock: a port closed in the middle of a message waits for ever, and a callback cancelled there may be used
after it was freed (both seen over JACK, at a thousand messages a second). So the callback cancels itself, in its own
thread, as long as messages come; where none does, it can be cancelled from outside.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from threading import Event
from typing import Final

#: Sees the bytes of each message, in the MIDI system's own thread: must be quick and must not raise.
Heard = Callable[[Sequence[int]], None]

#: A line on which nothing came for so long (seconds) is quiet enough for the callback to be cancelled from outside.
QUIET_S: Final = 0.01
#: Long enough (seconds) for another thread that waits for Python's lock to have had it.
_BREATH_S: Final = 0.001


class Callback:
    """Hands messages to ``heard`` until it leaves; ``cancel`` takes it away from the library."""

    def __init__(self, heard: Heard, cancel: Callable[[], None]) -> None:
        self._heard = heard
        self._cancel = cancel
        self._leaving = False
        self._left = Event()

    def arrived(self, data: Sequence[int]) -> None:
        """One message; in the MIDI system's thread."""
        if not self._leaving:
            self._heard(data)
        elif not self._left.is_set():
            self._cancel()
            self._left.set()

    def leave(self) -> None:
        """No message is being handed over when this returns, and none will be."""
        self._leaving = True
        if not self._left.wait(QUIET_S):
            self._left.set()
            self._cancel()
        time.sleep(_BREATH_S)
