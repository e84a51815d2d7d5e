"""A history of every schema that was ever in use opens, is brought up to date, and loses nothing."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from how_many import THOROUGH
from walked import walked_store

from listener.errors import StoreError
from listener.history.safekeeping import migrating
from listener.history.store import schema
from listener.history.store.connection import connect
from listener.history.store.store import Store

VERSIONS = Path(__file__).parents[1] / "versions"
OLDER = [int(folder.name) for folder in sorted(VERSIONS.iterdir())]


def rows_of(path: Path, table: str, columns: str = "*") -> list[Any]:
    """What a table holds, as SQLite gives it."""
    with closing(sqlite3.connect(path)) as db:
        return db.execute(f"SELECT {columns} FROM {table} ORDER BY 1, 2").fetchall()


@pytest.fixture
def older(store_path: Path, request: pytest.FixtureRequest) -> Path:
    """A copy of the history that a program with schema 1 left behind: four takes, one of them cut off."""
    shutil.copytree(VERSIONS / str(getattr(request, "param", 1)), store_path.parent)
    return store_path


def test_there_is_a_file_of_every_schema() -> None:
    """Whoever changes the tables adds a file of the schema before."""
    assert [*range(1, schema.SCHEMA)] == [version for version in OLDER if version < schema.SCHEMA]


@pytest.mark.parametrize("older", OLDER, indirect=True)
def test_every_schema_opens(older: Path, request: pytest.FixtureRequest) -> None:
    """Every take, stroke and file is there; what was cut off is completed; the copy is what it was; every row has its
    seal from now on."""
    strokes = [row[:14] for row in rows_of(older, "stroke")]
    takes = rows_of(older, "take", "id, drill, tuning, capo, hand, pickup, tempo, seed, header, started_at")
    before = older.read_bytes()
    with Store.open(older) as store:
        updated, *recovered = store.notes
        assert updated.startswith(
            "history.sqlite3 is brought up to date; as it was before it is kept as history-schema"
        )
        assert recovered == ["take 4 of ferry-landing was cut off; its 5 strokes are kept"]
        assert store.check() == ()
        kept = store.takes()
        assert [take.id for take in kept] == [1, 2, 3, 4]
        assert sum(len(store.verdicts(take.id)) for take in kept) == len(strokes)
        assert [store.take_file(take.id)[:4] for take in kept] == [b"MThd"] * 4
        assert {take.judged_by for take in kept} == {"0.1.0"}
        assert store.progress(player="simulated guitar").takes == 4
    assert [row[:14] for row in rows_of(older, "stroke")] == [row[:14] for row in strokes]
    for table in ("session", "route", "target", "take", "stroke", "skill", "review", "drill_played", "vocabulary"):
        assert rows_of(older, table, "seal, 1")
        assert not [seal for seal, _ in rows_of(older, table, "seal, 1") if seal is None], table
    columns = "id, drill, tuning, capo, hand, pickup, tempo, seed, header, started_at"
    assert rows_of(older, "take", columns) == takes
    (copy,) = older.parent.glob("history-schema-*.sqlite3")
    assert copy.name.startswith(f"history-schema-{request.node.callspec.params['older']}-2")
    assert [row[:14] for row in rows_of(copy, "stroke")] == strokes
    # Byte by byte, but for the header, which counts changes and says which journal the file uses.
    assert copy.read_bytes()[100:] == before[100:]
    with Store.open(older) as store:
        assert store.notes == ()


@pytest.mark.parametrize("older", OLDER, indirect=True)
def test_an_updated_file_is_like_a_new_one(older: Path, tmp_path: Path) -> None:
    """The same tables, columns, types and indexes, whichever way the file came to today's schema."""
    Store.open(older).close()
    Store.open(tmp_path / "new.sqlite3").close()

    def shape(path: Path) -> dict[str, list[Any]]:
        with closing(sqlite3.connect(path)) as db:
            names = [name for (name,) in db.execute("SELECT name FROM sqlite_master ORDER BY name")]
            found = {name: db.execute(f"PRAGMA table_info({name})").fetchall() for name in names}
            return {**found, "": db.execute("PRAGMA user_version").fetchall()}

    assert shape(older) == shape(tmp_path / "new.sqlite3")


def test_skills_are_filled_in(older: Path) -> None:
    """Steps of older plans get the skill that they practised."""
    with Store.open(older) as store, store.backend.reading() as db:
        targets = db.rows("SELECT skill, quality FROM target WHERE route = 1 ORDER BY step")
    assert all(skill and skill.split()[0] in ("spread", "close", "full") for skill, _ in targets)
    assert targets[0][1] == "maj"


@pytest.mark.parametrize("older", OLDER, indirect=True)
def test_what_older_takes_came_to(older: Path) -> None:
    """Every take has the account of its verdicts, also the one that was cut off, and a reader sees the same."""
    with Store.open(older, read_only=True) as store:
        looked_at = store.summaries(player="simulated guitar")
    with Store.open(older) as store:
        found = store.summaries(player="simulated guitar")
        assert found == [take.summary for take in walked_store(store)] == looked_at
        assert [take.account.how_far for take in found][3] == "5 of 16 steps"


@pytest.mark.parametrize("older", OLDER, indirect=True)
def test_reviews_are_made_out(older: Path) -> None:
    """What older takes say about skills is known when the file has been opened once, as if it had been so from the
    first; the player was simulated, so nobody else's skills are touched."""
    with Store.open(older) as store:
        found = store.standings("simulated guitar")
        assert len(found) > 10
        assert sum(standing.reviews for standing in found.values()) > 50
        assert store.standings() == {}
        store.review_again([take.id for take in store.takes()])
        assert store.standings("simulated guitar") == found


@pytest.mark.parametrize("older", OLDER, indirect=True)
def test_a_damaged_stroke_does_not_keep_a_history_from_opening(older: Path) -> None:
    """It is set aside and said, and left out of what its take came to; everything else is there."""
    with closing(sqlite3.connect(older)) as db, db:
        db.execute("UPDATE stroke SET fault_codes = 'x', rest = 'x' WHERE take = 1 AND number = 3")
    for read_only in (True, False):
        with Store.open(older, read_only=read_only) as store:
            accounts = [take.account for take in store.summaries(player="simulated guitar")]
            assert (len(accounts), accounts[0].judged, accounts[0].complete) == (4, 15, False)
            said = [line for line in store.notes if line.startswith("1 stroke of take 1 of ferry-landing")]
            assert len(said) == 1
            assert len(store.verdicts(1)) == 15
            assert store.check() == ()
    with Store.open(older) as store:
        assert store.notes == ()  # once is enough


def test_looking_does_not_update(older: Path) -> None:
    """Somebody who only reads sees everything, and the file stays as it is, byte by byte."""
    before = older.read_bytes()
    with Store.open(older, read_only=True) as store:
        assert store.progress(player="simulated guitar").takes == 4
        assert store.take(4).finished_at is None
    assert older.read_bytes() == before
    assert sorted(file.name for file in older.parent.iterdir() if file.suffix == ".sqlite3") == ["history.sqlite3"]


Step = Callable[[sqlite3.Connection], None]


def fails_half_way(db: sqlite3.Connection) -> None:
    """A step that changes something, then fails."""
    db.execute("ALTER TABLE take ADD COLUMN instrument TEXT")
    db.execute("DELETE FROM stroke")
    db.execute("INSERT INTO nowhere VALUES (1)")


def fails_after_commit(db: sqlite3.Connection) -> None:
    """The worst that a step could do: its changes are on the disk when it fails."""
    db.execute("DELETE FROM stroke")
    db.execute("DROP TABLE chunk")
    db.execute("COMMIT")
    db.execute("INSERT INTO nowhere VALUES (1)")


@pytest.mark.parametrize(
    ("step", "words"),
    [(fails_half_way, "it is as it was, and a copy is kept as"), (fails_after_commit, "it was put back from the copy")],
)
def test_a_step_that_fails(older: Path, monkeypatch: pytest.MonkeyPatch, step: Step, words: str) -> None:
    """The file is what it was, one line says so, and the next program of the kind it was made for can go on with it."""
    strokes, takes = rows_of(older, "stroke"), rows_of(older, "take")
    chunks = rows_of(older, "chunk")
    with monkeypatch.context() as patch:
        patch.setattr(schema, "STEPS", (schema.STEPS[0], step))
        with pytest.raises(
            StoreError, match=rf"could not be brought up to date \(no such table: nowhere\); {words}"
        ) as at:
            connect(older)
        assert "\n" not in str(at.value)
    assert (rows_of(older, "stroke"), rows_of(older, "take"), rows_of(older, "chunk")) == (strokes, takes, chunks)
    with closing(sqlite3.connect(older)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with Store.open(older) as store:
        assert len(store.takes()) == 4
    names = sorted(file.name for file in older.parent.glob("history-schema-1-*"))
    assert len(names) == 2  # one for each try, none overwritten
    assert not list(older.parent.glob("*.part"))


def test_no_room_for_the_copy(older: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a sound copy nothing is changed."""

    def no_room(path: Path) -> None:
        raise OSError(28, "No space left on device")

    before = older.read_bytes()
    monkeypatch.setattr(migrating, "sync_file", no_room)
    with pytest.raises(StoreError, match="cannot grow, the disk is full; free some space"):
        Store.open(older)
    assert rows_of(older, "stroke")
    assert older.read_bytes()[4096:] == before[4096:]
    assert not list(older.parent.glob("history-schema*"))


def test_a_copy_that_is_not_sound_stops_everything(older: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy that does not say what the file says is not trusted."""
    real = schema.version_of
    asked = []

    def changed(db: sqlite3.Connection, path: Path) -> int:
        asked.append(path)
        return real(db, path) + (1 if path.name.endswith(".part") else 0)

    monkeypatch.setattr(schema, "version_of", changed)
    with pytest.raises(StoreError, match=r"could not be copied to .*; nothing was changed; check the disk"):
        Store.open(older)
    assert any(path.name.endswith(".part") for path in asked)
    assert not list(older.parent.glob("history-schema*"))


OPEN = """
import sys, pathlib
from listener.history.store.connection import connect
print("here", flush=True)
connect(pathlib.Path(sys.argv[1]))
"""
PLAYER = Path(__file__).parents[1] / "player_program.py"


def test_programs_that_update_at_once(older: Path) -> None:
    """Three programs open an older file at the same moment: one updates it, all play, one copy is left."""
    command = [sys.executable, str(PLAYER), str(older), "1", "3"]
    children = [subprocess.Popen(command, stdout=subprocess.PIPE) for _ in range(3)]
    for child in children:
        child.communicate(timeout=60)
        assert child.returncode == 0
    with Store.open(older) as store:
        assert len(store.takes()) == 4 + 3
        assert store.backend.check() == ()
    assert len(list(older.parent.glob("history-schema-1-*"))) == 1


@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
def test_killed_while_updating(older: Path, tmp_path: Path) -> None:
    """Killed at any moment of the update, the file is either the old one or the new one, with every stroke."""
    strokes = rows_of(older, "stroke")
    chance, versions = random.Random(3), set()
    for number in range(6 if THOROUGH else 2):
        copy = tmp_path / str(number) / "history.sqlite3"
        shutil.copytree(VERSIONS / "1", copy.parent)
        with subprocess.Popen([sys.executable, "-c", OPEN, str(copy)], stdout=subprocess.PIPE) as child:
            assert child.stdout is not None
            child.stdout.readline()
            time.sleep(chance.uniform(0, 0.02))
            child.kill()
        with closing(sqlite3.connect(copy)) as db:
            versions.add(db.execute("PRAGMA user_version").fetchone()[0])
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert [row[:14] for row in rows_of(copy, "stroke")] == strokes
        with Store.open(copy) as store:
            assert len(store.takes()) == 4
    assert versions <= {1, schema.SCHEMA}
