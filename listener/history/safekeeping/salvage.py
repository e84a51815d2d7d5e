"""A damaged history: what can still be read goes into a new file, and the damaged one is kept aside.

Each table is read along its key from both ends, as far as it goes, and a row that does not make sense any more is left
out. That need not be all: a take that has lost a stroke, or all of itself, comes whole from its own file
(:mod:`listener.history.safekeeping.rebuilding`) when the history has been opened.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from listener.errors import StoreError, WidehandError
from listener.history.safekeeping.damage import schema_in_header
from listener.history.safekeeping.take_record import kept_file
from listener.history.store import schema
from listener.history.store.accounts import settle_all
from listener.history.store.folders import free_path, has_takes, part_of, sync_file, sync_folder
from listener.history.store.kept_settings import hand_from, instrument_from, pickup_from
from listener.history.store.owner import if_gone, tokens
from listener.history.store.rows import STROKE_COLUMNS, header_from, unpack_messages, utc_moment, verdict_from
from listener.history.store.sqlite_rows import SqliteRows
from listener.plain_words import counted

#: The table that a table's first key comes from, for those whose key has two parts.
_PARENTS: Final = {
    "target": "route",
    "stroke": "take",
    "chunk": "take",
    "former_stroke": "judgement",
}
#: What reads a column's values; it raises when they are garbage.
_READERS: Final[dict[str, Callable[[Any], object]]] = {
    **dict.fromkeys(("plan", "strings", "pitches", "tuning", "fault_codes", "marks"), json.loads),
    **dict.fromkeys(("started_at", "finished_at", "replaced_at"), utc_moment),
    "header": header_from,
    "instrument": instrument_from,
    "hand_model": hand_from,
    "pickup_profile": pickup_from,
    "messages": unpack_messages,
}
#: Finished takes that had more strokes than could be read.
_SHORT: Final = """
    SELECT id, file FROM take
    WHERE file IS NOT NULL AND strokes > (SELECT count(*) FROM stroke WHERE take = take.id)
"""

#: What SQLite, or a row with garbage in it, raises.
_UNREADABLE: Final = (sqlite3.DatabaseError, TypeError, OverflowError)

_Row = Sequence[Any]


def save_rest(path: Path, reason: str) -> str:
    """Put a history with everything that can be read in the place of a damaged one; gives the line for the player.

    StoreError, with the file left as it is, when nothing can be read or when somebody is playing into it.
    """
    for token in tokens(path):
        with if_gone(path, token) as gone:
            if not gone:
                raise StoreError(
                    f"{path} is damaged ({reason}), and another program is playing into it; close that one first"
                )
    part = part_of(path)
    try:
        takes, strokes, left_out = _rescue(path, part)
        if not takes:
            if not has_takes(path):
                raise StoreError(
                    f"{path} is damaged ({reason}), and nothing in it can be read; put back a copy, "
                    "or begin another history with WIDEHAND_STORE"
                )
            part.unlink()
            _make_empty(part)
        sync_file(part)
        aside = put_in_place(path, part)
    finally:
        part.unlink(missing_ok=True)
    kept = (
        f"{counted(takes, 'take')} with {counted(strokes, 'stroke')} could be read and "
        f"{'is' if takes == 1 else 'are'} in it now"
        if takes
        else "nothing in it could be read"
    )
    short = f", {counted(left_out, 'take')} in part" if left_out else ""
    return f"{path.name} was damaged ({reason}); {kept}{short}, and the damaged file is kept as {aside.name}"


def put_in_place(path: Path, part: Path) -> Path:
    """The damaged file is copied first, with its log, so that at every moment all of it is there under some name."""
    date = datetime.now(UTC).date().isoformat()
    aside = free_path(path.with_name(f"{path.stem}-damaged-{date}{path.suffix}"))
    for ending in ("-wal", ""):
        with suppress(FileNotFoundError):
            shutil.copy2(path.with_name(path.name + ending), aside.with_name(aside.name + ending))
            sync_file(aside.with_name(aside.name + ending))
    sync_folder(path.parent)
    for ending in ("-wal", "-shm"):  # a log must never meet another file than its own
        path.with_name(path.name + ending).unlink(missing_ok=True)
    os.replace(part, path)
    sync_folder(path.parent)
    return aside


def _make_empty(part: Path) -> None:
    with closing(sqlite3.connect(part, isolation_level=None)) as new:
        schema.build(new, 0)


def _rescue(path: Path, part: Path) -> tuple[int, int, int]:
    """Fill a new file at ``part``; gives the numbers of takes and strokes in it, and of takes left to their files."""
    with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(part, isolation_level=None)) as new:
        old.execute("PRAGMA writable_schema = ON")  # otherwise SQLite reads nothing of a file that was cut short
        new.execute("PRAGMA journal_mode = DELETE")
        new.execute("BEGIN")
        schema.build(new, 0, _version(old, path))
        known: dict[str, list[int]] = {}
        for table in schema.TABLES:
            columns = [(str(row[1]), str(row[2])) for row in new.execute(f"PRAGMA table_info({table})")]
            if columns:
                known[table] = _copy_table(old, new, table, columns, known)
        _mend(new)
        if new.execute("SELECT 1 FROM sqlite_master WHERE name = 'skill'").fetchone():
            new.execute("UPDATE take SET reviewed = 0")  # what follows from the takes is made anew
        left_out = 0
        if new.execute("SELECT 1 FROM pragma_table_info('take') WHERE name = 'strokes'").fetchone():
            left_out = _leave_to_their_files(new, path.parent)
            settle_all(SqliteRows(new))
        if new.execute("SELECT 1 FROM pragma_table_info('take') WHERE name = 'account_seal'").fetchone():
            new.execute("UPDATE take SET account_seal = NULL")  # of fewer strokes, perhaps
        new.execute("COMMIT")
        (takes,) = new.execute("SELECT count(*) FROM take").fetchone()
        (strokes,) = new.execute("SELECT count(*) FROM stroke").fetchone()
    return int(takes), int(strokes), left_out


def _leave_to_their_files(db: sqlite3.Connection, folder: Path) -> int:
    """Takes of which only a part is left go, where their files have the whole; gives their number."""
    count = 0
    for take, file in db.execute(_SHORT).fetchall():
        try:
            whole = kept_file((folder / file).read_bytes(), str(file))
        except (OSError, ValueError, WidehandError):
            continue
        if whole is not None:
            db.execute(
                "DELETE FROM former_stroke WHERE judgement IN (SELECT id FROM judgement WHERE take = ?)", (take,)
            )
            for table in ("judgement", "chunk", "stroke"):
                db.execute(f"DELETE FROM {table} WHERE take = ?", (take,))
            db.execute("DELETE FROM take WHERE id = ?", (take,))
            count += 1
    return count


def _version(db: sqlite3.Connection, path: Path) -> int:
    """The schema's number: the log may know a newer one than the file's first page; 1 where neither can be right."""
    try:
        (version,) = db.execute("PRAGMA user_version").fetchone()
    except sqlite3.DatabaseError:
        version = schema_in_header(path)
    return int(version) if 0 < version <= schema.SCHEMA else 1


def _copy_table(
    old: sqlite3.Connection,
    new: sqlite3.Connection,
    table: str,
    described: Sequence[tuple[str, str]],
    known: dict[str, list[int]],
) -> list[int]:
    """Copy what can be read of a table with these columns (names and types); gives the numbers in the first column."""
    columns, makes_sense = [name for name, _ in described], _sense(table, described)
    insert = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    wanted = f"SELECT {', '.join(columns)} FROM {table} NOT INDEXED"
    parent = _PARENTS.get(table)
    found: dict[int, None] = {}
    for where in [""] if parent is None else [f"WHERE {columns[0]} = {number}" for number in known[parent]]:
        for row in _along(old, f"{wanted} {where} ORDER BY {columns[0 if parent is None else 1]}"):
            if makes_sense(row):
                with suppress(sqlite3.IntegrityError):
                    new.execute(insert, row)
                    found[int(row[0])] = None
    return sorted(found)


def _along(db: sqlite3.Connection, wanted: str) -> Iterator[_Row]:
    """Rows from the front until damage, and if there is any, from the back until damage."""
    with suppress(*_UNREADABLE):
        yield from db.execute(f"{wanted} ASC")
        return
    with suppress(*_UNREADABLE):
        yield from db.execute(f"{wanted} DESC")  # what is there already is not put in twice


_Test = Callable[[_Row], bool]


def _sense(table: str, columns: Sequence[tuple[str, str]]) -> _Test:
    """Tells rows of a table from garbage: numbers where numbers belong, and texts that can be read as what they are."""
    names = [name for name, _ in columns]
    numbers = [place for place, (_, kind) in enumerate(columns) if kind in ("INTEGER", "REAL")]
    readers = [(place, _READERS[name]) for place, name in enumerate(names) if name in _READERS]
    verdict = [names.index(name) for name in STROKE_COLUMNS] if table in ("stroke", "former_stroke") else []

    def makes_sense(row: _Row) -> bool:
        try:
            for place, reader in readers:
                if row[place] is not None:
                    reader(row[place])
            if verdict:
                verdict_from([row[place] for place in verdict])
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, WidehandError):
            return False
        return all(row[place] is None or isinstance(row[place], int | float) for place in numbers)

    return makes_sense


def _mend(db: sqlite3.Connection) -> None:
    """Stand-ins for lost sessions and routes, so that no take has to go with them; judgements of lost takes go."""
    db.execute(
        "INSERT INTO session (id, started_at) SELECT session, min(started_at) FROM take "
        "WHERE session NOT IN (SELECT id FROM session) GROUP BY session"
    )
    db.execute(
        "INSERT INTO route (id, digest, drill_text, plan, step_count) "
        "SELECT DISTINCT route, 'lost ' || route, '', '{}', 0 FROM take WHERE route NOT IN (SELECT id FROM route)"
    )
    if db.execute("SELECT 1 FROM sqlite_master WHERE name = 'judgement'").fetchone():
        db.execute("DELETE FROM judgement WHERE take NOT IN (SELECT id FROM take)")
        db.execute("DELETE FROM former_stroke WHERE judgement NOT IN (SELECT id FROM judgement)")
