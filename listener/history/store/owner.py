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
from typing import Final

#: How long a program waits for another that looks whether it is there (seconds); that takes a moment.
_TURN_S: Final = 2.0


def new_token() -> str:
    """The token of a program, like no other."""
    return uuid.uuid4().hex[:16]


class Owner:
    """A program's sign beside the history ``store``; its ``token`` is written into each take that it records."""

    def __init__(self, store: Path, token: str) -> None:
        self._file = _sign(store, token)
        self._lock = _lock(self._file, _TURN_S)
        while not self._file.exists():  # whoever clears up has found it before it was locked, and took it away
            self._lock.close()
            self._lock = _lock(self._file, _TURN_S)

    def release(self) -> None:
        """Take the sign away."""
        _take_away(self._file, self._lock)


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
    except BaseException:
        lock.close()
        raise
    _take_away(file, lock)


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


def _take_away(file: Path, lock: sqlite3.Connection) -> None:
    """While the lock is held, so that nobody can lock it in between; Windows lets nobody delete what is open."""
    try:
        file.unlink(missing_ok=True)
    except OSError:
        lock.close()
        with suppress(OSError):  # somebody may just be looking at it; whoever finds it later clears it away
            file.unlink(missing_ok=True)
    else:
        lock.close()


def _lock(file: Path, timeout_s: float = 0.0) -> sqlite3.Connection:
    lock = sqlite3.connect(file, timeout=timeout_s, isolation_level=None)
    try:
        lock.execute("PRAGMA journal_mode = OFF")  # nothing is ever written: no second file for a journal
        lock.execute("BEGIN EXCLUSIVE")
    except BaseException:
        lock.close()
        raise
    return lock
