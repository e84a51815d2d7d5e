"""Opening the SQLite file, and saying in one line what went wrong when it cannot be read or written."""

from __future__ import annotations

import errno
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, NamedTuple

from listener.errors import StoreError
from listener.history import schema
from listener.history.damage import cut_off, is_ours, quick_look
from listener.history.migrating import prepare
from listener.history.salvage import save_rest
from listener.places import refuse_special
from listener.safe_text import echo

#: How long one program waits for another that is writing. Commits last milliseconds, so this only ends a real jam.
BUSY_S: Final = 5.0
#: The first SQLite with RETURNING (sqlite.org/lang_returning.html).
_LEAST_SQLITE: Final = (3, 35)

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
        return damaged(path, str(error))
    return f"{path} cannot be used ({error}); check the disk, {_ELSEWHERE}"


def _of_system(error: OSError, path: Path) -> str:
    if error.errno == errno.ENOSPC:
        return f"{path} cannot grow, the disk is full; free some space, {_ELSEWHERE}"
    reason = error.strerror or str(error)
    return f"{path} cannot be written ({reason.lower()}); check the rights of its folder, {_ELSEWHERE}"


def damaged(path: Path, reason: str) -> str:
    """The line about a damaged file that is left as it is."""
    return (
        f"{path} is damaged ({reason}); widehand rejudge saves what can be read and keeps the damaged file aside; "
        f"or put back a copy, {_ELSEWHERE}"
    )


class _Damaged(Exception):
    """Found while opening; the text says what."""


class Connected(NamedTuple):
    """The history, ready to be written, lines for the player, and whether it is what was left of a damaged one."""

    db: sqlite3.Connection
    notes: tuple[str, ...]
    was_damaged: bool = False


def connect(path: Path) -> Connected:
    """Made when there is none.

    A file of an older program is brought up to date. Of a damaged one, what can be read is saved first.
    """
    with explained(path):
        _refuse_old_sqlite()
        _refuse_folder(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            return Connected(*_open(path))
        except _Damaged as reason:
            note = save_rest(path, str(reason))
        try:
            db, notes = _open(path)
        except _Damaged as reason:
            raise StoreError(damaged(path, str(reason))) from None
        return Connected(db, (note, *notes), was_damaged=True)


def _open(path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    after_cut = cut_off(path)
    db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        schema.version_of(db, path)
        found = quick_look(db, path, after_cut=after_cut)
        if found:
            raise _Damaged(found)
        _use_write_ahead_log(db)
        # FULL, not NORMAL: with a write-ahead log NORMAL syncs only now and then, and a power cut would take the
        # last strokes with it. FULL syncs at every commit, which is what "kept when judged" means.
        db.execute("PRAGMA synchronous = FULL")
        # On macOS a plain fsync leaves data in the drive's own cache; elsewhere this changes nothing.
        db.execute("PRAGMA fullfsync = ON")
        db.execute("PRAGMA foreign_keys = ON")
        notes = prepare(db, path)
    except sqlite3.DatabaseError as error:
        db.close()
        if (error.sqlite_errorcode or 0) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) and is_ours(path):
            raise _Damaged(str(error)) from error
        raise
    except BaseException:
        db.close()
        raise
    return db, notes


def connect_for_reading(path: Path) -> sqlite3.Connection:
    """The history as it is, also where nothing may be written; an empty one when there is none yet."""
    with explained(path):
        _refuse_folder(path)
        if not path.exists():
            return empty_history()
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
    after_cut = cut_off(path)
    db = sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        version = schema.version_of(db, path)
        found = quick_look(db, path, after_cut=after_cut) if version else ""
        if found:
            raise StoreError(damaged(path, found))
        if 0 < version < schema.SCHEMA:
            return _brought_up_to_date(db, version)
    except BaseException:
        db.close()
        raise
    if version:
        return db
    db.close()
    return empty_history()


def _brought_up_to_date(db: sqlite3.Connection, version: int) -> sqlite3.Connection:
    """A copy in memory: somebody who only reads must not change the file of an older program."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    try:
        db.backup(copy)
        schema.build(copy, version)
    except BaseException:
        copy.close()
        raise
    db.close()
    return copy


def empty_history() -> sqlite3.Connection:
    """A history without a take, in memory."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    return db


def _refuse_folder(path: Path) -> None:
    try:
        is_folder = path.is_dir()
        refuse_special(path)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise StoreError(f"{echo(str(path), 60)} cannot be a file ({reason}); name another with --store") from None
    if is_folder:
        raise StoreError(f"{path} is a folder; name a file in it, such as {path / 'history.sqlite3'}")


def _refuse_old_sqlite() -> None:
    if sqlite3.sqlite_version_info < _LEAST_SQLITE:
        least = ".".join(map(str, _LEAST_SQLITE))
        raise StoreError(
            f"this Python comes with SQLite {sqlite3.sqlite_version}; keeping takes needs {least} or newer"
        )


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
