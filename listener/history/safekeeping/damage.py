"""Is the file sound? A look that costs little at every opening, and a thorough one when asked for."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from listener.history.store.folders import has_takes
from listener.history.store.schema import APPLICATION_ID

#: Files up to this size are looked through at every opening: measured 0.13 s for 64 MB, which is some 230,000 strokes.
#: Larger ones are when the program that wrote last was cut off, which is when a disk may have lost something.
LOOKED_THROUGH_BYTES: Final = 64_000_000
_MAGIC: Final = b"SQLite format 3\0"
_MOST_LINES: Final = 5
_PREFIX: Final = "*** in database main ***"


def code_of(error: sqlite3.Error) -> int:
    """What kind of error SQLite means (the low byte of its code); 0 for one that Python raised itself."""
    return (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF


def is_ours(path: Path) -> bool:
    """True when the first bytes of the file say that it is a Widehand history, whatever the rest is like.

    Cut before they can say so they are taken for one among takes.
    """
    with path.open("rb") as file:
        header = file.read(100)
    if 0 < len(header) < 72:
        return _MAGIC.startswith(header[: len(_MAGIC)]) and has_takes(path)
    return header.startswith(_MAGIC) and int.from_bytes(header[68:72], "big") == APPLICATION_ID


def schema_in_header(path: Path) -> int:
    """The schema's number as it stands in the file's first bytes."""
    with path.open("rb") as file:
        return int.from_bytes(file.read(100)[60:64], "big")


def cut_off(path: Path) -> bool:
    """True when a log lies beside the file: a program uses it now, or the last one did not end in peace."""
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def quick_look(db: sqlite3.Connection, path: Path, *, after_cut: bool) -> str:
    """What is wrong with the file, empty when nothing is; ``after_cut`` as :func:`cut_off` was before opening."""
    if path.stat().st_size > LOOKED_THROUGH_BYTES and not after_cut:
        return ""  # a file that was cut short is refused by SQLite itself
    return " ".join(_found(db, "PRAGMA quick_check(1)"))


def thorough_look(db: sqlite3.Connection) -> tuple[str, ...]:
    """A line for each thing that is wrong with pages, indexes and references."""
    lines = _found(db, f"PRAGMA integrity_check({_MOST_LINES})")
    lost = db.execute("PRAGMA foreign_key_check").fetchmany(_MOST_LINES) if not lines else []
    return (*lines, *(f"a row of {table} refers to a {parent} that is not there" for table, _, parent, _ in lost))


def _found(db: sqlite3.Connection, check: str) -> tuple[str, ...]:
    try:
        lines = [" ".join(str(line).replace(_PREFIX, "").split()) for (line,) in db.execute(check)]
    except sqlite3.DatabaseError as error:
        if code_of(error) not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise
        return (str(error),)
    return () if lines == ["ok"] else tuple(lines)
