"""A damaged history: what can still be read goes into a new file, and the damaged one is kept aside.

Reading goes along each table's key from both ends; where a page in between cannot be read, every key that may lie on it
is asked for by itself. A row that does not make sense any more is left out.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import uuid
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from listener.errors import StoreError, WidehandError
from listener.history import schema
from listener.history.accounts import settle_all
from listener.history.damage import schema_in_header
from listener.history.folders import free_path, sync_file, sync_folder
from listener.history.kept_settings import hand_from, instrument_from, pickup_from
from listener.history.owner import if_gone, tokens
from listener.history.rows import STROKE_COLUMNS, header_from, unpack_messages, utc_moment, verdict_from
from listener.history.sqlite_rows import SqliteRows

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
#: Between what can be read from both ends, at most this many keys are tried: of whole tables, and within a take.
_LONGEST_GAPS: Final = (20_000, 2_000)

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
    part = path.with_name(f".{path.name}-{uuid.uuid4().hex[:8]}.part")
    try:
        takes, strokes = _rescue(path, part)
        if not takes:
            raise StoreError(
                f"{path} is damaged ({reason}), and nothing in it can be read; put back a copy, "
                "or begin another history with WIDEHAND_STORE"
            )
        sync_file(part)
        aside = put_in_place(path, part)
    finally:
        part.unlink(missing_ok=True)
    return (
        f"{path.name} was damaged ({reason}); {_counted(takes, 'take')} with {_counted(strokes, 'stroke')} could be "
        f"read and {'is' if takes == 1 else 'are'} in it now, and the damaged file is kept as {aside.name}"
    )


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


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


def _rescue(path: Path, part: Path) -> tuple[int, int]:
    """Fill a new file at ``part``; gives the numbers of takes and strokes in it."""
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
        if new.execute("SELECT 1 FROM pragma_table_info('take') WHERE name = 'strokes'").fetchone():
            settle_all(SqliteRows(new))
        if new.execute("SELECT 1 FROM pragma_table_info('take') WHERE name = 'account_seal'").fetchone():
            new.execute("UPDATE take SET account_seal = NULL")  # of fewer strokes, perhaps
        new.execute("COMMIT")
        (takes,) = new.execute("SELECT count(*) FROM take").fetchone()
        (strokes,) = new.execute("SELECT count(*) FROM stroke").fetchone()
    return int(takes), int(strokes)


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
    groups: Iterator[Iterator[_Row]]
    if parent is None:
        groups = iter([_along(_ask(old, wanted, columns, 0), _LONGEST_GAPS[0])])
    else:
        within = [f"{wanted} WHERE {columns[0]} = {number}" for number in known[parent]]
        groups = (_along(_ask(old, one, columns, 1), _LONGEST_GAPS[1]) for one in within)
    found: dict[int, None] = {}
    for group in groups:
        for row in group:
            if makes_sense(row):
                with suppress(sqlite3.IntegrityError):
                    new.execute(insert, row)
                    found[int(row[0])] = None
    return list(found)


_Ask = Callable[[str, tuple[int, ...]], Iterator[tuple[int, _Row]]]


def _ask(db: sqlite3.Connection, wanted: str, columns: Sequence[str], at: int) -> _Ask:
    """Asks for rows in the order of a key, the column at this place."""
    key, join = columns[at], "AND" if at else "WHERE"

    def ask(how: str, bounds: tuple[int, ...]) -> Iterator[tuple[int, _Row]]:
        if how == "one":
            rows = db.execute(f"{wanted} {join} {key} = ?", bounds)
        else:
            rows = db.execute(f"{wanted} ORDER BY {key} {how}")
        return ((row[at], row) for row in rows)

    return ask


def _along(ask: _Ask, longest_gap: int) -> Iterator[_Row]:
    """Rows from the front until damage, from the back until damage, and one by one in between."""
    first_unread = 0
    try:
        for number, row in ask("ASC", ()):
            yield row
            first_unread = number + 1
        return
    except _UNREADABLE:
        pass
    end, from_back = first_unread + longest_gap, []
    with suppress(*_UNREADABLE):
        for number, row in ask("DESC", ()):
            end = min(end, number)
            from_back.append(row)
    for number in range(first_unread, end):
        with suppress(*_UNREADABLE):
            yield from (row for _, row in ask("one", (number,)))
    yield from reversed(from_back)


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
