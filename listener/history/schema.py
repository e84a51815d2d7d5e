"""The tables of the history and how an older file becomes a newer one.

``PRAGMA user_version`` holds the number of the schema and ``PRAGMA application_id`` says whose file it is. A change of
the tables is a new script at the end of :data:`SCRIPTS`; scripts that have been released are never edited.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from listener.errors import StoreError

#: "WdHd" in ASCII: marks the file as a Widehand history.
APPLICATION_ID: Final = 0x57644864

#: Script n brings a file from schema n to schema n + 1.
#:
#: A route (drill text and plan) is kept once, however often it is played; ``target`` repeats, for each of its steps,
#: what is asked for most. ``chunk`` holds the raw MIDI of takes that are not finished; a finished take has its file
#: instead. Strokes are stored in the order of their takes, so that reading a take reads neighbouring pages.
SCRIPTS: Final = (
    """
    CREATE TABLE session (
        id INTEGER PRIMARY KEY,
        started_at TEXT NOT NULL
    );
    CREATE TABLE route (
        id INTEGER PRIMARY KEY,
        digest TEXT NOT NULL UNIQUE,
        drill_text TEXT NOT NULL,
        plan TEXT NOT NULL,
        step_count INTEGER NOT NULL
    );
    CREATE TABLE target (
        route INTEGER NOT NULL REFERENCES route (id) ON DELETE CASCADE,
        step INTEGER NOT NULL,
        chord TEXT NOT NULL,
        kind TEXT NOT NULL,
        inversion INTEGER,
        strings TEXT NOT NULL,
        pitches TEXT NOT NULL,
        top INTEGER,
        PRIMARY KEY (route, step)
    ) WITHOUT ROWID;
    CREATE TABLE take (
        id INTEGER PRIMARY KEY,
        session INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
        route INTEGER NOT NULL REFERENCES route (id),
        drill TEXT NOT NULL,
        program_version TEXT NOT NULL,
        tuning TEXT NOT NULL,
        capo INTEGER NOT NULL,
        hand TEXT NOT NULL,
        pickup TEXT NOT NULL,
        pace TEXT NOT NULL,
        tempo REAL,
        first_beat_s REAL,
        source TEXT NOT NULL,
        seed INTEGER,
        header TEXT NOT NULL,
        started_at TEXT NOT NULL,
        finished_at TEXT,
        recovered INTEGER NOT NULL DEFAULT 0,
        owner TEXT NOT NULL,
        file TEXT,
        file_sha256 TEXT
    );
    CREATE INDEX take_of_drill ON take (drill, started_at);
    CREATE INDEX take_unfinished ON take (id) WHERE finished_at IS NULL;
    CREATE TABLE stroke (
        take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        step INTEGER NOT NULL,
        attempt INTEGER NOT NULL,
        grade TEXT NOT NULL CHECK (grade IN ('hit', 'near', 'miss')),
        onset_s REAL NOT NULL,
        spread_ms REAL NOT NULL,
        offset_ms REAL,
        top INTEGER,
        movement_semitones INTEGER,
        least INTEGER,
        movement_score REAL,
        fault_codes TEXT NOT NULL,
        rest TEXT NOT NULL,
        PRIMARY KEY (take, number)
    ) WITHOUT ROWID;
    CREATE TABLE chunk (
        take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        messages BLOB NOT NULL,
        marks TEXT NOT NULL,
        PRIMARY KEY (take, number)
    ) WITHOUT ROWID;
    """,
)
#: The schema that this program writes.
SCHEMA: Final = len(SCRIPTS)


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """The file's schema number, 0 for an empty file; StoreError when it is foreign or newer than this program."""
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner != APPLICATION_ID and (owner or version or tables):
        raise StoreError(f"{path} is a database of another program; choose another file with WIDEHAND_STORE")
    if version > SCHEMA:
        raise StoreError(
            f"{path} was written by a newer Widehand (its schema is {version}, this one knows {SCHEMA}); "
            "update Widehand, or keep another history with WIDEHAND_STORE"
        )
    return int(version)


def prepare(db: sqlite3.Connection, path: Path) -> None:
    """Bring the file to :data:`SCHEMA` in one transaction; shows, too, that it can be written at all."""
    db.execute("BEGIN IMMEDIATE")
    try:
        # Asked again inside: another program may have made the tables while this one waited for its turn.
        for script in SCRIPTS[version_of(db, path) :]:
            for statement in script.split(";"):
                db.execute(statement)
        # Written even when nothing changes: SQLite tells a file that may only be read at the first write, not before.
        db.execute(f"PRAGMA user_version = {SCHEMA}")
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
