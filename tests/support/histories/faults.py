"""A history that was really played into, faults put into it, and what every command makes of that. Runs in process."""

from __future__ import annotations

import contextlib
import io
import json
import random
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from listener.cli import main
from listener.errors import StoreError
from listener.history.skills import reviews
from listener.history.store.accounts import seal_takes
from listener.history.store.store import Store

NOW = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
#: Every command that opens a history; {store} and {folder} are filled in.
COMMANDS = (
    *("today --plain --store {store}", "today --json --store {store}", "today --demo --json --store {store}"),
    *("progress --store {store}", "progress --json --store {store}"),
    "progress --csv {folder}/t.csv --csv-changes {folder}/c.csv --store {store}",
    *("export --all --json --store {store}", "export --all --bundle {folder}/b.zip --from Mara --store {store}"),
    *("students {folder} --plain --rejudge", "drills --store {store}", "settings"),
    *("rejudge --store {store}", "rejudge --write --json --store {store}"),
    "demo mill-verse --fast --plain --store {store}",
    *("today --plain --store {store}", "progress --json --store {store}"),
)
#: What follows on a bundle that was taken in.
AFTER_IMPORT = (
    *("today --plain --store {store}", "progress --store {store}", "export --all --json --store {store}"),
    "progress --csv {folder}/t.csv --csv-changes {folder}/c.csv --store {store}",
    *("students {folder} --plain --rejudge", "rejudge --write --store {store}", "drills --store {store}"),
    "export --all --bundle {folder}/o.zip --from Mara --store {store}",
)


def played(place: Path) -> None:
    """Three takes, two of them the player's own, one judged again since; and one that was cut off."""
    for words in (("--seed", "7"), ("--seed", "3", "--own-pace"), ("--seed", "5")):
        silent(["demo", "mill-verse", "--fast", "--plain", "--store", str(place), *words])
    with Store.open(place) as store:
        with store.backend.writing() as rows:
            rows.rows("UPDATE take SET source = 'her guitar' WHERE id < 3")
            seal_takes(rows, (1, 2))
            reviews.forget_all(rows)  # whose they are has changed
        store.rewrite(1, store.verdicts(1), NOW, "0.0.9")
        store.review_again((1, 2, 3))


def silent(words: Sequence[str]) -> tuple[int, str]:
    """The exit code of a command and what it said on standard error; anything that escapes it is a bug."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = main(list(words))
        except SystemExit as leaving:
            code = int(leaving.code or 0)
    return code, err.getvalue()


def run_all(store: Path, folder: Path, commands: Sequence[str] = COMMANDS) -> list[str]:
    """Every command on this history; what each said, with its exit code, which is one that the pages name."""
    said = []
    for command in commands:
        words = [word.format(store=store, folder=folder) for word in command.split()]
        code, err = silent(words)
        assert code in (0, 1), (command, code, err)
        assert "Traceback" not in err
        said.append(err)
    return said


def content(store: Path) -> tuple[Any, tuple[str, ...]]:
    """Everything that can be asked of a history, and what was said about it; nothing where it cannot be opened."""
    try:
        return _content(store)
    except StoreError as error:
        return None, tuple(str(error).split("\n"))


def _content(store: Path) -> tuple[Any, tuple[str, ...]]:
    with Store.open(store) as opened:
        takes = opened.takes()
        with opened.backend.reading() as db:
            sittings = [tuple(row) for row in db.rows("SELECT id, started_at FROM session ORDER BY id")]
        found = (
            takes,
            [opened.verdicts(take.id) for take in takes],
            [opened.former_judgements(take.id) for take in takes],
            [opened.standings(player) for player in ("", "simulated guitar")],
            [opened.standpoint(player, NOW) for player in ("", "simulated guitar")],
            [opened.progress(player=player) for player in ("", "simulated guitar")],
            sittings,
        )
        return found, (*opened.notes, *opened.check())


def bit_flipped(path: Path, chance: random.Random) -> str:
    """One bit of the file."""
    data = bytearray(path.read_bytes())
    place = chance.randrange(len(data))
    data[place] ^= 1 << chance.randrange(8)
    path.write_bytes(bytes(data))
    return f"byte {place}"


#: What a cell can become.
VALUES: tuple[Any, ...] = (
    *(
        None,
        "",
        "x",
        "null",
        "[]",
        "{}",
        "[null]",
        "[[],[]]",
        '{"a":1}',
        "9" * 400,
        "\x00",
        "1e999",
        "2031-13-45",
        "Häuser",
    ),
    *(0, 1, -1, 2, 7, 2**31, 2**63 - 1, -(2**63), 0.5, -1e300, 4.7e78, float("inf"), b"", b"\xff\xfe", b"\x00" * 40),
)


def cell_changed(path: Path, chance: random.Random) -> str:
    """One value of one row, whatever the tables' own rules say about it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        while True:
            table = chance.choice(tables)
            columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
            rows = db.execute(f"SELECT * FROM {table}").fetchall()
            if not rows or table.startswith("sqlite"):
                continue
            row, column, value = chance.choice(rows), chance.choice(columns), chance.choice(VALUES)
            old = row[columns.index(column)]
            if isinstance(old, str) and chance.random() < 0.3:
                value = old[:-1] if chance.random() < 0.5 else old.swapcase()
            keys = " AND ".join(f"{name} IS ?" for name in columns)
            try:
                db.execute(f"UPDATE {table} SET {column} = ? WHERE {keys}", (value, *row))
            except sqlite3.Error:  # what the tables themselves do not let in
                continue
            return f"{table}.{column}: {str(old)[:40]!r} -> {str(value)[:40]!r}"


def field_changed(entries: dict[str, bytes], chance: random.Random) -> tuple[dict[str, bytes], str]:
    """Another value for one field, anywhere in one of a bundle's documents or in the header of a take."""
    name = chance.choice([name for name in entries if name.endswith(".json")])
    document = json.loads(entries[name])
    place, key = chance.choice(list(_places(document)))
    old, words = place[key], f"{name}: {key!r}"
    value: Any = chance.choice(JSON_VALUES)
    if isinstance(old, str) and chance.random() < 0.2:
        value = old.swapcase()
    elif isinstance(old, int | float) and not isinstance(old, bool) and chance.random() < 0.4:
        value = chance.choice([-old, old + 1, old * 1000, old / 7, str(old), [old]])
    if value is DROPPED:
        del place[key]
    else:
        place[key] = value
    return {**entries, name: json.dumps(document).encode()}, f"{words}: {str(old)[:30]!r} -> {str(value)[:30]!r}"


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every field and every entry of a list, however deep."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in list(pairs):
        yield value, key
        yield from _places(part)


#: Stands for a field that is not there any more.
DROPPED = object()
JSON_VALUES: tuple[Any, ...] = (
    *(
        None,
        True,
        False,
        0,
        1,
        -1,
        3,
        10**12,
        1e-300,
        1e300,
        0.5,
        "",
        "x",
        "H9",
        "own pace",
        "2999-12-31T23:59:59+00:00",
    ),
    *(
        [],
        [None],
        [[], []],
        {},
        {"a": 1},
        [1, 2],
        "E2",
        ["E2"],
        "\u202e",
        "x" * 3000,
        "1970-01-01T00:00:00+00:00",
        DROPPED,
    ),
)


def copies(made: Path, folder: Path) -> Iterator[Path]:
    """The same history anew each time."""
    number = 0
    while True:
        number += 1
        place = folder / str(number) / "history.sqlite3"
        shutil.copytree(made.parent, place.parent)
        yield place
        shutil.rmtree(place.parent)
