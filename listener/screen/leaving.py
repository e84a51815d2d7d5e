"""Being told to end becomes an ordinary exit, so that terminals are given back and takes kept."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType

from listener.session.take.closing import TOLD_TO_END


def _leave(number: int, frame: FrameType | None) -> None:
    raise SystemExit(128 + number)


@contextlib.contextmanager
def exit_on_signals() -> Iterator[None]:
    """Within this block these signals raise SystemExit (128 + number, as shells report it).

    Signals that something else already handles are left alone, and so is everything outside the main thread.
    """
    before: dict[int, signal.Handlers] = {}
    if threading.current_thread() is threading.main_thread():
        for name in TOLD_TO_END:
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                before[number] = signal.SIG_DFL
                signal.signal(number, _leave)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
