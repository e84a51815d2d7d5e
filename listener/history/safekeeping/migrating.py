"""An older history becomes today's: a checked copy first, then all steps in one transaction.

When a step fails the transaction is undone. Should the file not be what it was even then, the copy is put back.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from listener.errors import StoreError
from listener.history.safekeeping.looking import lenient
from listener.history.store import schema
from listener.history.store.folders import free_path, sync_file, sync_folder


def prepare(db: sqlite3.Connection, path: Path) -> tuple[str, ...]:
    """Bring the file to today's schema; shows, too, that it can be written at all. Gives lines for the player."""
    copy: Path | None = None
    db.execute("BEGIN IMMEDIATE")
    try:
        # Asked inside: another program may have made the tables while this one waited for its turn.
        version = schema.version_of(db, path)
        before = _shape(db)
        if 0 < version < schema.SCHEMA:
            copy = back_up(path, version)
        db.text_factory = lenient
        schema.build(db, version)
        db.execute("COMMIT")
    except BaseException as error:
        if db.in_transaction:
            db.execute("ROLLBACK")
        if copy is None:
            raise
        text = _undone(db, copy, before)
        if isinstance(error, Exception):
            raise StoreError(f"{path} could not be brought up to date ({error}); {text}") from error
        raise
    finally:
        db.text_factory = str
    if copy is None:
        return ()
    return (f"{path.name} is brought up to date; as it was before it is kept as {copy.name}",)


def back_up(path: Path, version: int) -> Path:
    """A checked copy of the history beside it, named with its schema and today's date, durable when this returns."""
    date = datetime.now(UTC).date().isoformat()
    target = free_path(path.with_name(f"{path.stem}-schema-{version}-{date}{path.suffix}"))
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one plain file, nothing beside it
            if schema.version_of(copy, part) != version or copy.execute("PRAGMA quick_check").fetchall() != [("ok",)]:
                raise StoreError(f"{path} could not be copied to {target}; nothing was changed; check the disk")
        sync_file(part)
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)
    return target


def _undone(db: sqlite3.Connection, copy: Path, before: list[tuple[object, ...]]) -> str:
    """Make sure that the file is what it was before the steps; gives the words for it."""
    try:
        if _shape(db) == before and db.execute("PRAGMA quick_check(1)").fetchall() == [("ok",)]:
            return f"it is as it was, and a copy is kept as {copy.name}"
    except sqlite3.DatabaseError:
        pass  # then all the more
    with closing(sqlite3.connect(copy)) as source:
        source.backup(db)
    return f"it was put back from the copy {copy.name}"


def _shape(db: sqlite3.Connection) -> list[tuple[object, ...]]:
    """The schema's number and everything that is defined."""
    return [
        *db.execute("PRAGMA user_version").fetchall(),
        *db.execute("SELECT type, name, sql FROM sqlite_master ORDER BY type, name").fetchall(),
    ]
