"""Opening the SQLite file, and saying in one line what went wrong when it cannot be read or written."""

from __future__ import annotations

import errno
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import randint
from typing import Final, NamedTuple

from listener.errors import StoreError
from listener.history.safekeeping.damage import code_of, cut_off, is_ours, quick_look
from listener.history.safekeeping.looking import WHOLE_BYTES, Broken, is_sound, lenient, look_through
from listener.history.safekeeping.migrating import prepare
from listener.history.safekeeping.salvage import save_rest
from listener.history.safekeeping.schema_mending import mend_description
from listener.history.store import schema
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
    except UnicodeDecodeError as error:  # in the very line that SQLite has about it
        raise StoreError(damaged(path, _GARBAGE)) from error
    except sqlite3.Error as error:
        raise StoreError(_of_sqlite(error, path)) from error
    except OSError as error:
        raise StoreError(_of_system(error, path)) from error


def _of_sqlite(error: sqlite3.Error, path: Path) -> str:
    code = code_of(error)
    if code == sqlite3.SQLITE_FULL:
        return f"{path} cannot grow, the disk is full; free some space, {_ELSEWHERE}"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
        return f"{path} cannot be written; check the rights of the file and its folder, {_ELSEWHERE}"
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"{path} is held by another program; close that one and try again, {_ELSEWHERE}"
    if code == sqlite3.SQLITE_NOTADB:
        return f"{path} is not a Widehand history; move it away, {_ELSEWHERE}"
    if code == sqlite3.SQLITE_CORRUPT or _garbled(error):
        return damaged(path, _garbled(error) or str(error))
    return f"{path} cannot be used ({error}); check the disk, {_ELSEWHERE}"


#: What is said where a text cannot be read that all others hang on.
_GARBAGE: Final = "its description is garbage"


def _garbled(error: sqlite3.Error) -> str:
    """What is wrong when a table or column that this program made has lost its name; empty when that is not it."""
    text = str(error)
    if text.startswith("Could not decode to UTF-8"):
        return _GARBAGE
    return text if text.startswith(("no such column", "no such table", "no such index")) else ""


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
    """The history, ready to be written, lines for the player, and whether takes were lost: it is what was left of a
    damaged one, or had takes that could not be trusted."""

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
            return _open(path)
        except _Damaged as reason:
            note = mend_description(path, str(reason)) or save_rest(path, str(reason))
        try:
            db, notes, _ = _open(path)
        except _Damaged as reason:
            raise StoreError(damaged(path, str(reason))) from None
        return Connected(db, (note, *notes), was_damaged=True)


def _open(path: Path) -> Connected:
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
        takes = _takes(db)
        notes += look_through(db, whole=_looks_whole(path, after_cut), chance=randint)
        lost = _takes(db) < takes
    except (Broken, sqlite3.IntegrityError) as error:  # the latter: no index can be made of what its table holds
        db.close()
        raise _Damaged(str(error)) from error
    except sqlite3.DatabaseError as error:
        db.close()
        lost = code_of(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
        if (lost or _garbled(error)) and is_ours(path):
            raise _Damaged(_garbled(error) or str(error)) from error
        raise
    except UnicodeDecodeError as error:
        db.close()
        if is_ours(path):
            raise _Damaged(_GARBAGE) from error
        raise
    except BaseException:
        db.close()
        raise
    return Connected(db, notes, lost)


def _takes(db: sqlite3.Connection) -> int:
    return int(db.execute("SELECT count(*) FROM take").fetchone()[0])


def _looks_whole(path: Path, after_cut: bool) -> bool:
    return after_cut or path.stat().st_size <= WHOLE_BYTES


def connect_for_reading(path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    """The history as it is, also where nothing may be written; an empty one when there is none yet.

    Where it has to be brought up to date first, or has rows that are not what was kept, it is a copy in memory: who
    only reads must not change the file. Lines for the player come with it.
    """
    with explained(path):
        _refuse_folder(path)
        if not path.exists():
            return empty_history(), ()
    uri = path.absolute().as_uri()
    try:
        return _read(f"{uri}?mode=ro", path)
    except sqlite3.OperationalError as error:
        # Reading a write-ahead log needs a small shared file beside it. Where even that may not be made, and there is
        # no log with newer pages, the main file holds everything and can be read as it stands.
        log = path.with_name(path.name + "-wal")
        if code_of(error) != sqlite3.SQLITE_CANTOPEN or (log.exists() and log.stat().st_size):
            raise StoreError(f"{path} cannot be read ({error}); check the rights of the file, {_ELSEWHERE}") from error
        with explained(path):
            return _read(f"{uri}?immutable=1", path)
    except sqlite3.Error as error:
        raise StoreError(_of_sqlite(error, path)) from error
    except UnicodeDecodeError as error:
        raise StoreError(damaged(path, _GARBAGE)) from error


def _read(uri: str, path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    after_cut = cut_off(path)
    db = sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        version = schema.version_of(db, path)
        found = quick_look(db, path, after_cut=after_cut) if version else ""
        if found:
            raise StoreError(damaged(path, found))
        whole = _looks_whole(path, after_cut)
        if version == schema.SCHEMA and is_sound(db, whole=whole, chance=randint):
            return db, ()
        return _copy_in_memory(db, version, path) if version else (empty_history(), ())
    except BaseException:
        db.close()
        raise


def _copy_in_memory(db: sqlite3.Connection, version: int, path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    """Brought up to date and looked through."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    try:
        db.backup(copy)
        copy.text_factory = lenient
        schema.build(copy, version)
        copy.text_factory = str
        notes = look_through(copy, whole=True, chance=randint)
    except (Broken, sqlite3.IntegrityError) as error:
        copy.close()
        raise StoreError(damaged(path, str(error))) from error
    except BaseException:
        copy.close()
        raise
    db.close()
    return copy, notes


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
            if code_of(error) != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
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
