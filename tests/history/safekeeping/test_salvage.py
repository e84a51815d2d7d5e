"""A damaged history: what can be read is saved, the damaged file is kept, and the player is told in plain words."""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from walked import walked_store

from listener.errors import StoreError
from listener.history.safekeeping import damage
from listener.history.store import schema
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)
TAKES, STROKES = 30, 20


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, info: Info, verdict: MakeVerdict) -> tuple[Path, Any]:
    """Thirty takes of twenty strokes in a closed history, and what each holds."""
    path = tmp_path_factory.mktemp("made") / "history.sqlite3"
    with Store.open(path) as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")  # only for speed: nothing is cut off here
        for number in range(TAKES):
            take = store.begin_take(info(session=store.begin_session(NOW), seed=number))
            for step in range(STROKES):
                store.keep(take, verdict(step % 3, ("hit", "near")[step % 2], attempt=number), [])
            store.finish_take(take, b"file %d" % take, NOW)
        return path, {kept.id: store.verdicts(kept.id) for kept in store.takes()}


@pytest.fixture
def played(made: tuple[Path, Any], store_path: Path) -> dict[int, tuple[Verdict, ...]]:
    """That history at ``store_path``; what each take holds."""
    shutil.copytree(made[0].parent, store_path.parent)
    found: dict[int, tuple[Verdict, ...]] = made[1]
    return found


def pages_of(path: Path, table: str) -> list[int]:
    """The numbers of the pages that hold a table's rows, found by what SQLite reports when a page is spoilt."""
    data = path.read_bytes()
    found = []
    for page in range(2, len(data) // 4096 + 1):
        with sqlite3.connect(":memory:") as db:
            db.deserialize(spoilt(data, [page]))
            try:
                db.execute(f"SELECT * FROM {table} NOT INDEXED").fetchall()
            except sqlite3.DatabaseError:
                found.append(page)
        db.close()
    return found


def spoilt(data: bytes, pages: list[int]) -> bytes:
    """The file with these pages (from 1) overwritten. In write-ahead mode a file in memory cannot be opened: bytes 18
    and 19 of the header say that it is not (sqlite.org/fileformat.html)."""
    changed = bytearray(data)
    changed[18:20] = b"\x01\x01"
    for page in pages:
        changed[(page - 1) * 4096 : page * 4096] = b"\xa5" * 4096
    return bytes(changed)


def spoil(path: Path, pages: list[int]) -> bytes:
    """Overwrite pages of the file; gives the damaged content."""
    changed = spoilt(path.read_bytes(), pages)
    path.write_bytes(changed)
    return changed


@pytest.mark.parametrize("where", ["first", "middle", "last"])
def test_one_bad_page_of_strokes(store_path: Path, played: dict[int, tuple[Verdict, ...]], where: str) -> None:
    """All takes stay, all strokes but those of the page, in order; the damaged file is kept byte by byte."""
    pages = pages_of(store_path, "stroke")
    leaves = [page for page in pages if store_path.read_bytes()[(page - 1) * 4096] == 10]  # 10: a leaf of an index tree
    bad = {"first": leaves[0], "middle": leaves[len(leaves) // 2], "last": leaves[-1]}[where]
    damaged = spoil(store_path, [bad])
    with Store.open(store_path) as store:
        (note,) = store.notes
        kept = {take.id: store.verdicts(take.id) for take in store.takes()}
        assert store.check() == ()
        assert store.take_file(7) == b"file 7"
        # What a take came to is what is left of it.
        assert store.summaries() == [take.summary for take in walked_store(store)]
    assert set(kept) == set(played)
    lost = 0
    for take, verdicts in played.items():
        rest = iter(verdicts)
        assert all(one in rest for one in kept[take])  # those that are left, in their order
        lost += len(verdicts) - len(kept[take])
    assert 0 < lost <= 30  # a page holds some fifteen strokes
    match = re.search(r"30 takes with (\d+) strokes could be read and are in it now.*kept as (\S+)$", note)
    assert match
    assert int(match[1]) == TAKES * STROKES - lost
    assert (store_path.parent / match[2]).read_bytes() == damaged
    assert re.fullmatch(r"history-damaged-\d{4}-\d\d-\d\d\.sqlite3", match[2])
    with Store.open(store_path) as store:
        assert store.notes == ()


@pytest.mark.parametrize("table", ["take", "session", "route", "target"])
def test_bad_pages_of_other_tables(store_path: Path, played: dict[int, tuple[Verdict, ...]], table: str) -> None:
    """A lost session or drill text costs no stroke; a lost take only its own."""
    spoil(store_path, pages_of(store_path, table)[-1:])
    with Store.open(store_path) as store:
        assert "was damaged" in store.notes[0]
        kept = {take.id: store.verdicts(take.id) for take in store.takes()}
        assert store.check() == ()
        assert store.progress().takes == len(kept)
        again = store.begin_session(NOW)
    assert again > 0
    if table == "take":
        assert 0 < len(kept) < TAKES
        assert all(kept[take] == played[take] for take in kept)
    else:
        assert kept == played


def test_a_copy_that_was_cut_short(store_path: Path, played: dict[int, tuple[Verdict, ...]]) -> None:
    """A file without its end is noticed even where files of its size are not looked through."""
    size = store_path.stat().st_size
    with store_path.open("r+b") as file:
        file.truncate(size * 3 // 4)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(damage, "LOOKED_THROUGH_BYTES", 0)
        with Store.open(store_path) as store:
            assert "was damaged" in store.notes[0]
            kept = {take.id: store.verdicts(take.id) for take in store.takes()}
    assert sum(map(len, kept.values())) > TAKES * STROKES // 4
    assert all(set(kept[take]) <= set(played[take]) for take in kept)


def test_only_looking_changes_nothing(store_path: Path, played: dict[int, tuple[Verdict, ...]]) -> None:
    """Somebody who reads is told what to do; the file stays as it is."""
    damaged = spoil(store_path, pages_of(store_path, "stroke")[1:2])
    with pytest.raises(StoreError, match=r"is damaged \(.*widehand rejudge saves what can be read"):
        Store.open(store_path, read_only=True)
    assert store_path.read_bytes() == damaged
    assert len(list(store_path.parent.iterdir())) == 2


def test_not_while_somebody_plays(
    store_path: Path, played: dict[int, tuple[Verdict, ...]], info: Info, verdict: MakeVerdict
) -> None:
    """A damaged file that another program is playing into is left to it."""
    with Store.open(store_path) as playing:
        take = playing.begin_take(info(session=1))
        playing.keep(take, verdict(), [])
        playing.backend.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        damaged = bytearray(store_path.read_bytes())
        page = pages_of(store_path, "stroke")[1]
        damaged[(page - 1) * 4096 : page * 4096] = b"\xa5" * 4096
        store_path.write_bytes(bytes(damaged))
        with pytest.raises(StoreError, match="another program is playing into it; close that one first"):
            Store.open(store_path)
        assert store_path.read_bytes() == bytes(damaged)


def test_damage_in_a_history_with_a_log(
    store_path: Path, played: dict[int, tuple[Verdict, ...]], info: Info, verdict: MakeVerdict, tmp_path: Path
) -> None:
    """Strokes that are only in the log are saved as well."""
    copy = tmp_path / "copy" / "history.sqlite3"
    copy.parent.mkdir()
    with Store.open(store_path) as playing:
        take = playing.begin_take(info(session=1))
        for step in range(3):
            playing.keep(take, verdict(step), [])
        for ending in ("", "-wal"):
            shutil.copy(store_path.with_name(store_path.name + ending), copy.with_name(copy.name + ending))
    data = bytearray(copy.read_bytes())
    page = next(page for page in pages_of(copy, "stroke") if data[(page - 1) * 4096] == 10)  # a leaf of an index tree
    data[(page - 1) * 4096 : page * 4096] = b"\xa5" * 4096
    copy.write_bytes(bytes(data))
    with Store.open(copy, make_file=lambda take: b"rebuilt") as store:
        assert "was damaged" in store.notes[0]
        assert store.verdicts(take) == tuple(verdict(step) for step in range(3))
    (aside,) = copy.parent.glob("history-damaged-*")
    assert aside.stat().st_size >= len(data)


@pytest.mark.parametrize("seed", range(12))
def test_random_damage(store_path: Path, played: dict[int, tuple[Verdict, ...]], seed: int) -> None:
    """Whatever is spoilt after the first page: either a sound history opens that holds nothing but what was played, or
    one clear line says that nothing can be read and the file stays as it was."""
    chance = random.Random(seed)
    data = bytearray(store_path.read_bytes())
    for _ in range(chance.randint(1, 12)):
        place = chance.randrange(4096, len(data))
        length = min(chance.choice((1, 16, 512, 4096)), len(data) - place)
        data[place : place + length] = chance.randbytes(length)
    store_path.write_bytes(bytes(data))
    try:
        store = Store.open(store_path)
    except StoreError as trouble:
        said = str(trouble)
    else:
        said = ""
    if said:
        assert "\n" not in said
        assert store_path.read_bytes() == bytes(data)
        return
    with store:
        if not store.notes:  # bytes that SQLite has no way to notice, or that nothing uses
            return
        assert [line for line in store.check() if "is damaged" in line] == []
        for take in store.takes():
            assert len(store.verdicts(take.id)) <= STROKES


def test_a_damaged_file_of_an_older_program(store_path: Path) -> None:
    """First what can be read is saved, then it is brought up to date."""
    shutil.copytree(Path(__file__).parents[1] / "versions" / "1", store_path.parent)
    spoil(store_path, pages_of(store_path, "stroke")[-1:])
    with Store.open(store_path) as store:
        saved, updated, cut_off = store.notes
        assert "was damaged" in saved
        assert "4 takes with" in saved
        assert "is brought up to date" in updated
        assert "take 4 of ferry-landing was cut off" in cut_off
        assert store.check() == ()
        assert 0 < store.progress(player="simulated guitar").strokes < 67
    assert len(list(store_path.parent.glob("history-*.sqlite3"))) == 2


def test_changed_and_missing_take_files(store_path: Path, played: dict[int, Any]) -> None:
    """A look at everything names the takes whose files are gone or not what was kept; so does reading them."""
    takes = store_path.parent / "takes"
    (takes / "0002-harbour-walk.mid").unlink()
    (takes / "0005-harbour-walk.mid").write_bytes(b"something else")
    with Store.open(store_path) as store:
        missing, changed = store.check()
        assert re.search(r"take 2 cannot be read from .*0002-harbour-walk.mid \(there is no such file\)", missing)
        assert re.search(r"file of take 5 is not what was kept: .*0005-harbour-walk.mid has changed", changed)
        for take in (2, 5):
            with pytest.raises(StoreError, match="put"):
                store.take_file(take)


def test_thorough_look_sees_indexes_and_references(store_path: Path, played: dict[int, Any]) -> None:
    """What the quick look does not see: an index that lacks a row, a row without its take."""
    db = sqlite3.connect(store_path)
    db.execute("PRAGMA foreign_keys = OFF")
    db.execute("DELETE FROM session WHERE id = 3")
    db.execute("PRAGMA writable_schema = ON")
    db.commit()
    db.close()
    with Store.open(store_path) as store:
        assert store.notes == ("a sitting was lost from the history; its takes are still there",)
        assert store.check() == ()


def test_skills_are_made_out_anew(store_path: Path, info: Info, verdict: MakeVerdict) -> None:
    """What follows from the takes is not copied from a damaged file: it follows again from what could be read."""
    with Store.open(store_path) as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")
        for number in range(30):
            take = store.begin_take(info(session=store.begin_session(NOW), seed=number))
            for step in range(20):
                store.keep(take, verdict(step % 3, attempt=1), [])
            store.finish_take(take, b"file %d" % take, NOW)
        whole = store.standings()
    spoil(store_path, pages_of(store_path, "review")[-1:])
    with Store.open(store_path) as store:
        assert "was damaged" in store.notes[0]
        assert "600 strokes" in store.notes[0]
        assert store.standings() == whole
        assert store.check() == ()


def test_every_table_is_saved() -> None:
    """The tables that are copied are those that exist, each after those it refers to; derived ones come after."""
    db = sqlite3.connect(":memory:")
    schema.build(db, 0)
    names = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    tables = (*schema.TABLES, *schema.DERIVED)
    assert sorted(tables) == sorted(names)
    for place, table in enumerate(tables):
        parents = {row[2] for row in db.execute(f"PRAGMA foreign_key_list({table})")}
        assert parents <= set(tables[:place])
    db.close()
