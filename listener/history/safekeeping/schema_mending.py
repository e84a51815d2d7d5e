"""A history whose own description is damaged: SQLite then reads nothing of it, though every row may be there.

What stands in the description is known: the program wrote it. It is put back in a copy, and the copy takes the file's
place when all of it can be read.
"""

from __future__ import annotations

import shutil
import sqlite3
import uuid
from contextlib import closing
from pathlib import Path

from listener.history.safekeeping.salvage import put_in_place
from listener.history.store import schema
from listener.history.store.folders import sync_file
from listener.history.store.owner import if_gone, tokens


def mend_description(path: Path, reason: str) -> str:
    """Put the file's description right where that is all that is damaged; gives the line for the player, or nothing."""
    for token in tokens(path):
        with if_gone(path, token) as gone:
            if not gone:
                return ""
    part = path.with_name(f".{path.name}-{uuid.uuid4().hex[:8]}.part")
    try:
        for ending in ("-wal", ""):
            if path.with_name(path.name + ending).exists():
                shutil.copy2(path.with_name(path.name + ending), part.with_name(part.name + ending))
        if not _described_again(part) or not _sound(part):
            return ""
        sync_file(part)
        aside = put_in_place(path, part)
    except (sqlite3.Error, UnicodeDecodeError):
        return ""
    finally:
        for ending in ("-wal", "-shm", "-journal", ""):
            part.with_name(part.name + ending).unlink(missing_ok=True)
    return f"{path.name} was damaged ({reason}) and has been put right; the damaged file is kept as {aside.name}"


def _described_again(path: Path) -> bool:
    """Whether something in the description was not what this program writes, and is now."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db, closing(sqlite3.connect(":memory:")) as fresh:
        db.text_factory = bytes
        db.execute("PRAGMA writable_schema = ON")  # otherwise SQLite reads nothing of it
        (version,) = db.execute("PRAGMA user_version").fetchone()
        if not 0 < version <= schema.SCHEMA:
            return False
        schema.build(fresh, 0, version)
        fresh.text_factory = bytes
        asked = "SELECT type, name, tbl_name, sql, rowid FROM sqlite_master ORDER BY rowid"
        wanted, found = fresh.execute(asked).fetchall(), db.execute(asked).fetchall()
        pairs = [(right, row) for right, row in zip(wanted, found, strict=False) if right[:4] != row[:4]]
        if len(wanted) != len(found) or not pairs:
            return False
        db.execute("BEGIN IMMEDIATE")
        for right, row in pairs:
            texts = [None if text is None else text.decode() for text in right[:4]]
            db.execute(
                "UPDATE sqlite_master SET type = ?, name = ?, tbl_name = ?, sql = ? WHERE rowid = ?", (*texts, row[4])
            )
        db.execute("COMMIT")
    return True


def _sound(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as db:
        sound: bool = db.execute("PRAGMA integrity_check(1)").fetchall() == [("ok",)]
        db.execute("PRAGMA journal_mode = DELETE")  # one plain file again
        return sound
