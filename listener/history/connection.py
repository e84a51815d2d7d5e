"""Opening the SQLite file, and saying in one line what went wrong when it cannot be read or written."""

from __future__ import annotations

import errno
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from listener.errors import StoreError
from listener.history import schema

#: How long one program waits for another that is writing. Commits last milliseconds, so this only ends a real jam.
BUSY_S: Final = 5.0

_ELSEWHERE: Final = "or set WIDEHAND_STORE to a file elsewhere"


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn SQLite's and the system's errors about this file into a :class:`StoreError`."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise  # a bug of ours, not the player's
    except sqlite3.Error as error:
        raise StoreError(_of_sqlite(error, path)) from error
    except OSError as error:
        raise StoreError(_of_system(error, path)) from error


def _of_sqlite(error: sqlite3.Error, path: Path) -> str:
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF  # the low byte is the kind, the rest detail
    if code == sqlite3.SQLITE_FULL:
        return f"{path} cannot grow, the disk is full; free some space, {_ELSEWHERE}"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
        return f"{path} cannot be written; check the rights of the file and its folder, {_ELSEWHERE}"
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"{path} is held by another program; close that one and try again, {_ELSEWHERE}"
    if code == sqlite3.SQLITE_NOTADB:
        return f"{path} is not a Widehand history; move it away, {_ELSEWHERE}"
    if code == sqlite3.SQLITE_CORRUPT:
        return f"{path} is damaged ({error}); put back a copy, {_ELSEWHERE}"
    return f"{path} cannot be used ({error}); check the disk, {_ELSEWHERE}"


def _of_system(error: OSError, path: Path) -> str:
    if error.errno == errno.ENOSPC:
        return f"{path} cannot grow, the disk is full; free some space, {_ELSEWHERE}"
    reason = error.strerror or str(error)
    return f"{path} cannot be written ({reason.lower()}); check the rights of its folder, {_ELSEWHERE}"


def connect(path: Path) -> sqlite3.Connection:
    """The history, ready to be written; made when there is none."""
    with explained(path):
        _refuse_folder(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
        try:
            schema.version_of(db, path)
            _use_write_ahead_log(db)
            # FULL, not NORMAL: with a write-ahead log NORMAL syncs only now and then, and a power cut would take the
            # last strokes with it. FULL syncs at every commit, which is what "kept when judged" means.
            db.execute("PRAGMA synchronous = FULL")
            # On macOS a plain fsync leaves data in the drive's own cache; elsewhere this changes nothing.
            db.execute("PRAGMA fullfsync = ON")
            db.execute("PRAGMA foreign_keys = ON")
            schema.prepare(db, path)
        except BaseException:
            db.close()
            raise
    return db


def connect_for_reading(path: Path) -> sqlite3.Connection:
    """The history as it is, also where nothing may be written; an empty one when there is none yet."""
    with explained(path):
        _refuse_folder(path)
        if not path.exists():
            return _empty(path)
    uri = path.absolute().as_uri()
    try:
        return _read(f"{uri}?mode=ro", path)
    except sqlite3.OperationalError as error:
        # Reading a write-ahead log needs a small shared file beside it. Where even that may not be made, and there is
        # no log with newer pages, the main file holds everything and can be read as it stands.
        log = path.with_name(path.name + "-wal")
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_CANTOPEN or (log.exists() and log.stat().st_size):
            raise StoreError(f"{path} cannot be read ({error}); check the rights of the file, {_ELSEWHERE}") from error
        with explained(path):
            return _read(f"{uri}?immutable=1", path)
    except sqlite3.Error as error:
        raise StoreError(_of_sqlite(error, path)) from error


def _read(uri: str, path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        version = schema.version_of(db, path)
    except BaseException:
        db.close()
        raise
    if version:
        return db
    db.close()
    return _empty(path)


def _empty(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.prepare(db, path)
    return db


def _refuse_folder(path: Path) -> None:
    if path.is_dir():
        raise StoreError(f"{path} is a folder; name a file in it, such as {path / 'history.sqlite3'}")


def _use_write_ahead_log(db: sqlite3.Connection) -> None:
    """Readers then never wait for the writer. Where the file system cannot do it, SQLite keeps its older journal.

    The change of journal does not honour the waiting time above, so two programs that make the same new file at the
    same moment take turns here.
    """
    give_up = time.monotonic() + BUSY_S
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
                raise
            time.sleep(0.01)


@contextmanager
def transaction(db: sqlite3.Connection, path: Path) -> Iterator[sqlite3.Connection]:
    """All or nothing, durable when the block ends. Takes the write lock at once, so that it cannot fail half-way."""
    with explained(path):
        db.execute("BEGIN IMMEDIATE")
        try:
            yield db
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
