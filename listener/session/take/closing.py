"""What ends a program that did not ask for it: signals, and on Windows a console that goes away.

The window of a console is closed on Windows, or somebody logs off: no signal says so, and a few seconds are left.

Windows tells a thread of its own making, and ends the program as soon as that thread has answered, or after five
seconds (SetConsoleCtrlHandler and HandlerRoutine in the documentation of Windows). So the answer is held back until the
take is kept and the program has ended by itself. Not tried on a real Windows.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

#: Told to end, the terminal hung up, Ctrl-\\, and Ctrl-Break on Windows; each system has some of these signals.
TOLD_TO_END: Final = ("SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK")
#: CTRL_CLOSE_EVENT, CTRL_LOGOFF_EVENT and CTRL_SHUTDOWN_EVENT. Ctrl-C (0) and Ctrl-Break (1) are signals (wincon.h).
_CLOSING: Final = (2, 5, 6)
#: Longer than Windows waits (seconds).
_LONG_S: Final = 20.0


@contextmanager
def told_of_closing(tell: Callable[[], None]) -> Iterator[None]:
    """Within this block ``tell`` is called, from another thread, when the console is about to go away."""
    console = _console()
    if console is None:
        yield
        return
    kernel, make = console

    def routine(event: int) -> bool:
        if event not in _CLOSING:
            return False
        tell()
        time.sleep(_LONG_S)
        return True

    handler = make(routine)  # must live for as long as it is registered
    kernel.SetConsoleCtrlHandler(handler, True)
    try:
        yield
    finally:
        kernel.SetConsoleCtrlHandler(handler, False)


def _console() -> tuple[Any, Callable[[Callable[[int], bool]], Any]] | None:
    """The library that knows, and what makes a routine for it; None on other systems."""
    if os.name != "nt":
        return None
    import ctypes
    from ctypes import wintypes

    windows: Any = ctypes
    return windows.windll.kernel32, windows.WINFUNCTYPE(wintypes.BOOL, wintypes.DWORD)
