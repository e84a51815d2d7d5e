"""Ctrl-Z, and a program that was stopped and goes on: the terminal is given to the shell and taken again.

A signal may come in the middle of a drawing, so its handler only takes a note, and the loop that reads the keys acts on
it between two messages: first it is told to :data:`HOLD`, so that a take is paused before notes are lost, and when it
asks again the screens leave the terminal, the keys give it back, and the program stops until the shell sends SIGCONT.
Windows knows none of this.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType
from typing import Final, Protocol

#: What Ctrl-Z sends, and what lets a stopped program go on; 0 where there is no such thing.
_STOP: Final[int] = getattr(signal, "SIGTSTP", 0)
_GO_ON: Final[int] = getattr(signal, "SIGCONT", 0)
#: The word for "you will be stopped with the next look at the keys".
HOLD: Final = "hold"


class TerminalHolder(Protocol):
    """What has the terminal for itself while it is open."""

    def step_aside(self) -> None:
        """Give it to whoever is next, as it was."""

    def step_back(self) -> None:
        """Take it again; what stood there is gone."""


#: Screens that are open, in the order in which they were opened.
_screens: list[TerminalHolder] = []


def opened(screen: TerminalHolder) -> None:
    """From now on it steps aside when the program is stopped."""
    _screens.append(screen)


def closed(screen: TerminalHolder) -> None:
    """It is a screen no more; any number of times."""
    if screen in _screens:
        _screens.remove(screen)


class Suspension:
    """While it is installed, SIGTSTP and SIGCONT wait for the next ``turn``.

    ``give_back`` and ``take_again`` switch the terminal's keys between the shell's way and ours.
    """

    def __init__(self, give_back: Callable[[], None], take_again: Callable[[], None]) -> None:
        self._give_back = give_back
        self._take_again = take_again
        self._asked = self._due = self._woken = False
        self._installed = False

    def install(self) -> None:
        """Where there is such a thing and nobody else has seen to it: a shell without jobs has SIGTSTP ignored."""
        if not _STOP or threading.current_thread() is not threading.main_thread():
            return
        if signal.getsignal(_STOP) is signal.SIG_DFL:
            signal.signal(_STOP, self._ask)
            signal.signal(_GO_ON, self._wake)
            self._installed = True

    def remove(self) -> None:
        """Signals mean again what they meant before."""
        if self._installed:
            self._installed = False
            signal.signal(_STOP, signal.SIG_DFL)
            signal.signal(_GO_ON, signal.SIG_DFL)

    def turn(self) -> list[str]:
        """Act on what has come since the last turn; the words for the loop."""
        if self._asked:
            self._asked, self._due = False, True
            return [HOLD]
        if self._due:
            self._due = False
            self._stop()
        elif self._woken:  # stopped by somebody else, who asked nobody: the shell has had the terminal meanwhile
            self._woken = False
            self._return()
        return []

    def _stop(self) -> None:
        for screen in reversed(_screens):
            screen.step_aside()
        self._give_back()
        signal.signal(_STOP, signal.SIG_DFL)
        signal.raise_signal(_STOP)  # here we stand until SIGCONT; where no shell could send it, not at all
        signal.signal(_STOP, self._ask)
        self._woken = False
        self._return()

    def _return(self) -> None:
        self._take_again()
        for screen in _screens:
            screen.step_back()

    def _ask(self, _number: int, _frame: FrameType | None) -> None:
        self._asked = True

    def _wake(self, _number: int, _frame: FrameType | None) -> None:
        self._woken = True
