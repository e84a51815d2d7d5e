"""Single keys without echo: the words for what the player asked, never blocking.

POSIX terminals are switched to one-key-at-a-time through termios and given back exactly as they were, on every way
out; Windows consoles are read through msvcrt. When the input is not a terminal (a pipe, a file, a job in the
background) nothing is read and nothing is changed. Ctrl-C and Ctrl-Z keep their meaning; who reads the keys is told
before the program is stopped (:mod:`listener.screen.suspending`), because a take that runs would lose every note.
"""

from __future__ import annotations

import atexit
import contextlib
import errno
import os
import sys
from types import TracebackType
from typing import IO, Any, Final, Protocol

from listener.screen.suspending import Suspension

ACTIONS: Final = {
    " ": "pause", "a": "again", "b": "back", "n": "next", "-": "slower", "_": "slower", "+": "faster", "=": "faster",
    "t": "target", "k": "keep", "m": "more", "?": "signs", "q": "quit",
}  # fmt: skip
#: Keys that have no letter, by name. Foot pedals for page turners send the arrows or the page keys (common practice).
SPECIAL: Final = {
    "left": "again", "right": "next", "up": "faster", "down": "slower", "page up": "again", "page down": "next",
}  # fmt: skip
#: How terminals send them: what stands between ``ESC [`` or ``ESC O`` and the end (ECMA-48 cursor sequences as DEC
#: VT220 and xterm send them, both in normal and in application mode). A key held together with Shift or Ctrl carries
#: more ("1;5A") and means nothing.
_SEQUENCES: Final = {"A": "up", "B": "down", "C": "right", "D": "left", "5~": "page up", "6~": "page down"}
#: The second half of the pair that the console of Windows gives for a special key (scan codes of the IBM PC keyboard).
_SCAN_CODES: Final = {"H": "up", "P": "down", "K": "left", "M": "right", "I": "page up", "Q": "page down"}


#: A call that a signal broke off is made again, so many times at most.
_TRIES: Final = 20


class KeyReader:
    """Characters in, action words out. Escape sequences that mean nothing to us are passed over as a whole."""

    def __init__(self) -> None:
        #: What has come of an escape sequence so far; empty outside.
        self._sequence = ""

    def feed(self, text: str) -> list[str]:
        """The actions that these characters mean; a key may be split over two calls."""
        return [action for char in text if (action := self._one(char))]

    def end_of_read(self) -> None:
        """Nothing more came with the last character: a lone Escape was the key Escape, and means nothing."""
        if self._sequence == "\x1b":
            self._sequence = ""

    def _one(self, char: str) -> str | None:
        if char == "\x1b":
            self._sequence = char
        elif self._sequence == "\x1b":
            self._sequence = self._sequence + char if char in "[O" else ""
        elif self._sequence:
            return self._within(char)
        else:
            return ACTIONS.get(char.lower())
        return None

    def _within(self, char: str) -> str | None:
        """A character of a sequence: parameters go on, anything else ends it (``ESC [ [ A`` of the Linux console is a
        function key)."""
        self._sequence += char
        if char in "0123456789;:<=>?" or self._sequence == "\x1b[[":
            return None
        found, self._sequence = self._sequence[2:], ""
        return SPECIAL.get(_SEQUENCES.get(found, ""))


class _Console(Protocol):
    """One way of reading keys."""

    def read(self) -> str: ...

    def restore(self) -> None: ...

    def take_again(self) -> None: ...


class _Nothing:
    """No terminal: no keys."""

    def read(self) -> str:
        return ""

    def restore(self) -> None:
        return None

    def take_again(self) -> None:
        return None


class _Posix:
    """A terminal in one-key mode; ``gone`` once it has been hung up."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        if sys.platform == "win32":
            raise OSError("the console of Windows is no terminal of this kind")
        import termios

        self._before = termios.tcgetattr(fd)
        mode = termios.tcgetattr(fd)
        mode[3] &= ~(termios.ICANON | termios.ECHO)
        controls = list(mode[6])
        controls[termios.VMIN], controls[termios.VTIME] = 0, 0
        mode[6] = controls
        self._mode = mode
        termios.tcsetattr(fd, termios.TCSANOW, mode)

    def read(self) -> str:
        import select

        text = b""
        with contextlib.suppress(InterruptedError):
            while select.select([self._fd], [], [], 0)[0]:
                try:
                    chunk = os.read(self._fd, 1024)
                except OSError:
                    chunk = b""
                if not chunk:
                    return text.decode("ascii", "ignore") + "q"
                text += chunk
        return text.decode("ascii", "ignore")

    def restore(self) -> None:
        if sys.platform == "win32":
            return
        import termios

        with contextlib.suppress(termios.error, OSError):
            termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)

    def take_again(self) -> None:
        """One key at a time again. In the background this stops us once more, until we are in front."""
        if sys.platform == "win32":
            return
        import termios

        for _ in range(_TRIES):
            try:
                termios.tcsetattr(self._fd, termios.TCSANOW, self._mode)
            except termios.error as error:
                if error.args[0] == errno.EINTR:
                    continue
            return


class _Windows:
    """The console of Windows; special keys come as a pair of characters, Ctrl-C as a character."""

    def read(self) -> str:
        import msvcrt

        console: Any = msvcrt
        text = ""
        while console.kbhit():
            char = console.getwch()
            if char in ("\x00", "\xe0"):
                # The letter that is also called E0 (an a with a grave accent) comes alone: then nothing is waited for.
                text += _as_sequence(console.getwch()) if console.kbhit() else ""
            else:
                text += "q" if char == "\x03" else char
        return text

    def restore(self) -> None:
        return None

    def take_again(self) -> None:
        return None


def _as_sequence(code: str) -> str:
    """A special key of Windows as the sequence that terminals send for it; empty for one that means nothing."""
    name = _SCAN_CODES.get(code)
    return next((f"\x1b[{sequence}" for sequence, key in _SEQUENCES.items() if key == name), "")


class Keyboard:
    """Context manager; ``read()`` gives the keys pressed since the last call as action words.

    The words are those of :data:`ACTIONS`, for letters and for the keys of :data:`SPECIAL`, and
    :data:`~listener.screen.suspending.HOLD` before the program is stopped. A terminal that was closed reads as "quit",
    so that the take is ended and kept.
    """

    def __init__(self, stream: IO[str] | None = None) -> None:
        self._stream = stream
        self._keys = KeyReader()
        self._console: _Console = _Nothing()
        self._suspension = Suspension(lambda: self._console.restore(), lambda: self._console.take_again())

    def __enter__(self) -> Keyboard:
        self._console = _console(self._stream if self._stream is not None else sys.stdin)
        atexit.register(self.close)
        self._suspension.install()
        return self

    def read(self) -> list[str]:
        """Never waits, unless the player has stopped the program; most of the time an empty list."""
        if held := self._suspension.turn():
            return held
        actions = self._keys.feed(self._console.read())
        self._keys.end_of_read()
        return actions

    def close(self) -> None:
        """Give the terminal back; any number of times."""
        console, self._console = self._console, _Nothing()
        console.restore()
        self._suspension.remove()
        atexit.unregister(self.close)

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def _console(stream: IO[str] | None) -> _Console:
    try:
        if stream is None or not stream.isatty():
            return _Nothing()
        fd = stream.fileno()
    except (OSError, ValueError):
        return _Nothing()
    if sys.platform == "win32":
        return _Windows()
    try:
        # A background job that touches the terminal would be stopped by the shell.
        return _Posix(fd) if os.tcgetpgrp(fd) == os.getpgrp() else _Nothing()
    except OSError:
        return _Nothing()
