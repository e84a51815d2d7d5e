"""The tables of the embedded history, from the first that was ever in use to today's.

``PRAGMA user_version`` holds the number of the schema and ``PRAGMA application_id`` says whose file it is. A change of
the tables is a new step at the end of :data:`STEPS`; steps that have been released are never edited, and a file of
every schema is kept in ``tests/history/versions``.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Final

from listener.errors import StoreError
from listener.history.skills.skill_key import quality_of, skill_key
from listener.history.store.accounts import settle_all
from listener.history.store.sqlite_rows import SqliteRows

#: "WdHd" in ASCII: marks the file as a Widehand history.
APPLICATION_ID: Final = 0x57644864

#: A route (drill text and plan) is kept once, however often it is played; ``target`` repeats, for each of its steps,
#: what is asked for most. ``chunk`` holds the raw MIDI of takes that are not finished; a finished take has its file
#: instead. Strokes are stored in the order of their takes, so that reading a take reads neighbouring pages.
_FIRST: Final = """
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
    ) WITHOUT ROWID
"""

#: What the take was played on, whole; the skill of each step; and what strokes were judged to be by earlier programs.
_SECOND: Final = """
    ALTER TABLE take ADD COLUMN instrument TEXT;
    ALTER TABLE take ADD COLUMN hand_model TEXT;
    ALTER TABLE take ADD COLUMN pickup_profile TEXT;
    ALTER TABLE take ADD COLUMN judged_by TEXT;
    ALTER TABLE target ADD COLUMN quality TEXT;
    ALTER TABLE target ADD COLUMN skill TEXT;
    CREATE TABLE judgement (
        id INTEGER PRIMARY KEY,
        take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
        program_version TEXT NOT NULL,
        replaced_at TEXT NOT NULL
    );
    CREATE INDEX judgement_of_take ON judgement (take);
    CREATE TABLE former_stroke (
        judgement INTEGER NOT NULL REFERENCES judgement (id) ON DELETE CASCADE,
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
        PRIMARY KEY (judgement, number)
    ) WITHOUT ROWID
"""

#: Skills and when they are due. All of it follows from takes and strokes and can be made anew from them at any time
#: (:mod:`listener.history.skills.reviews`): ``take.reviewed`` says whose take is in it, ``skill.stale`` that a skill's
#: reviews are to be gone through again, ``player`` tells the simulated guitarist from the one who plays ('').
#: ``reviewing`` is one row, which whoever works on reviews holds.
_THIRD: Final = """
    ALTER TABLE take ADD COLUMN reviewed INTEGER NOT NULL DEFAULT 0;
    CREATE INDEX take_unreviewed ON take (id) WHERE reviewed = 0;
    CREATE TABLE reviewing (turn INTEGER NOT NULL);
    INSERT INTO reviewing (turn) VALUES (0);
    CREATE TABLE skill (
        id INTEGER PRIMARY KEY,
        player TEXT NOT NULL,
        key TEXT NOT NULL,
        stability_days REAL NOT NULL,
        difficulty REAL NOT NULL,
        stage INTEGER NOT NULL,
        learning_step INTEGER,
        reviewed_at TEXT NOT NULL,
        due_at TEXT NOT NULL,
        reviews INTEGER NOT NULL,
        tries INTEGER NOT NULL,
        hits INTEGER NOT NULL,
        recent REAL NOT NULL,
        take INTEGER NOT NULL,
        route INTEGER NOT NULL,
        step INTEGER NOT NULL,
        stale INTEGER NOT NULL DEFAULT 0,
        UNIQUE (player, key)
    );
    CREATE TABLE review (
        skill INTEGER NOT NULL REFERENCES skill (id) ON DELETE CASCADE,
        take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
        grade INTEGER NOT NULL,
        tries INTEGER NOT NULL,
        hits INTEGER NOT NULL,
        step INTEGER NOT NULL,
        PRIMARY KEY (skill, take)
    ) WITHOUT ROWID;
    CREATE TABLE drill_played (
        player TEXT NOT NULL,
        drill TEXT NOT NULL,
        title TEXT NOT NULL,
        route INTEGER NOT NULL,
        tempo REAL,
        drill_tempo REAL,
        beats REAL NOT NULL,
        strain REAL NOT NULL,
        tries INTEGER NOT NULL,
        hits INTEGER NOT NULL,
        played_at TEXT NOT NULL,
        PRIMARY KEY (player, drill)
    ) WITHOUT ROWID
"""

#: What each take came to (:mod:`listener.history.store.accounts`), NULL as long as it is played. Of a drill that was
#: played the take is kept that says most. Reviews are made anew: a take that was broken off says less now than it did.
_FOURTH: Final = """
    ALTER TABLE take ADD COLUMN strokes INTEGER;
    ALTER TABLE take ADD COLUMN reached INTEGER;
    ALTER TABLE take ADD COLUMN complete INTEGER;
    ALTER TABLE take ADD COLUMN hits INTEGER;
    ALTER TABLE take ADD COLUMN nears INTEGER;
    ALTER TABLE take ADD COLUMN misses INTEGER;
    ALTER TABLE take ADD COLUMN put_right INTEGER;
    ALTER TABLE take ADD COLUMN onsets INTEGER;
    ALTER TABLE take ADD COLUMN offset_tenths INTEGER;
    ALTER TABLE take ADD COLUMN offset_squares INTEGER;
    ALTER TABLE take ADD COLUMN moves INTEGER;
    ALTER TABLE take ADD COLUMN score_tenths INTEGER;
    ALTER TABLE take ADD COLUMN semitones INTEGER;
    ALTER TABLE take ADD COLUMN tops INTEGER;
    ALTER TABLE take ADD COLUMN tops_right INTEGER;
    ALTER TABLE take ADD COLUMN faults TEXT;
    DROP TABLE drill_played;
    CREATE TABLE drill_played (
        player TEXT NOT NULL,
        drill TEXT NOT NULL,
        title TEXT NOT NULL,
        take INTEGER NOT NULL,
        route INTEGER NOT NULL,
        drill_tempo REAL,
        beats REAL NOT NULL,
        strain REAL NOT NULL,
        played_at TEXT NOT NULL,
        PRIMARY KEY (player, drill)
    ) WITHOUT ROWID;
    DELETE FROM review;
    DELETE FROM skill;
    UPDATE take SET reviewed = 0
"""

#: A seal for every row (:mod:`listener.history.safekeeping.seals`), NULL where there is none yet: rows from before get
#: theirs when they are looked through (:mod:`listener.history.safekeeping.looking`). What a take came to has one of its
#: own, because it can be counted again. ``aside`` keeps rows that make no sense or are not what was kept, as JSON, out
#: of everybody's way. Reviews are made anew, sealed.
_FIFTH: Final = """
    ALTER TABLE session ADD COLUMN seal INTEGER;
    ALTER TABLE route ADD COLUMN seal INTEGER;
    ALTER TABLE target ADD COLUMN seal INTEGER;
    ALTER TABLE take ADD COLUMN seal INTEGER;
    ALTER TABLE take ADD COLUMN account_seal INTEGER;
    ALTER TABLE stroke ADD COLUMN seal INTEGER;
    ALTER TABLE chunk ADD COLUMN seal INTEGER;
    ALTER TABLE judgement ADD COLUMN seal INTEGER;
    ALTER TABLE former_stroke ADD COLUMN seal INTEGER;
    ALTER TABLE skill ADD COLUMN seal INTEGER;
    ALTER TABLE review ADD COLUMN seal INTEGER;
    ALTER TABLE drill_played ADD COLUMN seal INTEGER;
    CREATE INDEX stroke_unsealed ON stroke (take) WHERE seal IS NULL;
    CREATE INDEX former_stroke_unsealed ON former_stroke (judgement) WHERE seal IS NULL;
    CREATE TABLE aside (
        id INTEGER PRIMARY KEY,
        set_aside_at TEXT NOT NULL,
        what TEXT NOT NULL,
        content TEXT NOT NULL
    );
    DELETE FROM drill_played;
    DELETE FROM review;
    DELETE FROM skill;
    UPDATE take SET reviewed = 0
"""

#: Which voicings each take uses, and how often (:mod:`listener.history.vocabulary.rows`): one more thing that follows
#: from takes and is made out with their reviews. And what the touch of a take came to
#: (:mod:`listener.history.store.touches`), with its own seal: it does not follow from the verdicts. NULL where nobody
#: knows, as in all takes from before.
_SIXTH: Final = """
    CREATE TABLE vocabulary (
        take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
        skill TEXT NOT NULL,
        root INTEGER NOT NULL,
        chords INTEGER NOT NULL,
        seal INTEGER,
        PRIMARY KEY (take, skill, root)
    ) WITHOUT ROWID;
    ALTER TABLE take ADD COLUMN touch TEXT;
    ALTER TABLE take ADD COLUMN touch_seal INTEGER;
    DELETE FROM drill_played;
    DELETE FROM review;
    DELETE FROM skill;
    UPDATE take SET reviewed = 0
"""


def _script(text: str) -> Callable[[sqlite3.Connection], None]:
    def run(db: sqlite3.Connection) -> None:
        for statement in text.split(";"):
            db.execute(statement)

    return run


def _second(db: sqlite3.Connection) -> None:
    _script(_SECOND)(db)
    rows = db.execute("SELECT route, step, chord, kind, inversion, strings FROM target").fetchall()
    for route, step, chord, kind, inversion, strings in rows:
        quality = quality_of(chord)
        skill = skill_key(kind, quality, inversion, json.loads(strings))
        db.execute(
            "UPDATE target SET quality = ?, skill = ? WHERE route = ? AND step = ?", (quality, skill, route, step)
        )


def _fourth(db: sqlite3.Connection) -> None:
    _script(_FOURTH)(db)
    settle_all(SqliteRows(db))


#: Step n brings a file from schema n to schema n + 1, within a transaction.
STEPS: Final[tuple[Callable[[sqlite3.Connection], None], ...]] = (
    *(_script(_FIRST), _second, _script(_THIRD), _fourth),
    *(_script(_FIFTH), _script(_SIXTH)),
)
#: The schema that this program writes.
SCHEMA: Final = len(STEPS)
#: Its tables, each after those that it refers to.
TABLES: Final = ("session", "route", "target", "take", "stroke", "chunk", "judgement", "former_stroke", "aside")
#: Those that follow from the others, in the same order.
DERIVED: Final = ("reviewing", "skill", "review", "drill_played", "vocabulary")


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """The file's schema number, 0 for an empty file; StoreError when it is foreign or newer than this program."""
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner != APPLICATION_ID and (owner or version or tables):
        raise StoreError(f"{path} is a database of another program; choose another file with WIDEHAND_STORE")
    if version > SCHEMA:
        raise StoreError(newer(str(path), version, SCHEMA))
    return int(version)


def newer(place: str, version: int, known: int) -> str:
    """The line about a history of a later program."""
    return (
        f"{place} was written by a newer Widehand (its schema is {version}, this one knows {known}); "
        "update Widehand, or keep another history with WIDEHAND_STORE"
    )


def build(db: sqlite3.Connection, start: int, end: int = SCHEMA) -> None:
    """Run the steps from one schema to another and write the file's marks, within the caller's transaction."""
    for step in STEPS[start:end]:
        step(db)
    # Written even when nothing changes: SQLite tells a file that may only be read at the first write, not before.
    db.execute(f"PRAGMA user_version = {max(start, end)}")
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
