"""Who is playing: tells a take that still runs in another program from one that was cut off.

Each program that records holds an exclusive SQLite lock on a small empty file of its own beside the history. The
operating system drops the lock when the program ends, however it ends, so there is no clock to compare and no process
number that could have been given to somebody else since. SQLite's locks are the same on all platforms.
"""

from __future__ import annotations

import sqlite3
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


class Owner:
    """This program's sign beside the history ``store``; ``token`` is written into each take that it records."""

    def __init__(self, store: Path) -> None:
        self.token = uuid.uuid4().hex[:16]
        self._file = _sign(store, self.token)
        self._lock = _lock(self._file)

    def release(self) -> None:
        """Take the sign away."""
        self._lock.close()
        # Somebody may just be looking at it (Windows then refuses); whoever finds it later clears it away.
        with suppress(OSError):
            self._file.unlink(missing_ok=True)


@contextmanager
def if_gone(store: Path, token: str) -> Iterator[bool]:
    """True when the program with this token has ended. Its place is held meanwhile, so that only one clears up."""
    file = _sign(store, token)
    if not file.exists():
        yield True
        return
    try:
        lock = _lock(file)
    except sqlite3.Error:
        yield False
        return
    try:
        yield True
    finally:
        lock.close()
    with suppress(OSError):
        file.unlink(missing_ok=True)


def tokens(store: Path) -> list[str]:
    """The tokens of all signs beside the history, of programs that run and of those that were killed."""
    start = _sign(store, "").name
    return [file.name.removeprefix(start) for file in store.parent.iterdir() if file.name.startswith(start)]


def age_s(store: Path, token: str) -> float:
    """Seconds since the sign was made; 0 when it has gone meanwhile."""
    try:
        return time.time() - _sign(store, token).stat().st_mtime
    except FileNotFoundError:
        return 0.0


def _sign(store: Path, token: str) -> Path:
    return store.with_name(f"{store.name}-playing-{token}")


def _lock(file: Path) -> sqlite3.Connection:
    lock = sqlite3.connect(file, timeout=0, isolation_level=None)
    try:
        lock.execute("PRAGMA journal_mode = OFF")  # nothing is ever written: no second file for a journal
        lock.execute("BEGIN EXCLUSIVE")
    except BaseException:
        lock.close()
        raise
    return lock
