"""When the history cannot be used, one clear line says so, and nothing that was kept is harmed."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from listener.errors import StoreError
from listener.hearing.events import Message
from listener.history.store import connection, folders
from listener.history.store.rows import TakeInfo
from listener.history.store.schema import SCHEMA
from listener.history.store.store import Store
from listener.judging.verdict import Verdict

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
MakeMessages = Callable[[int], tuple[Message, ...]]
NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)


def refused(path: Path, match: str, **how: Any) -> None:
    """Opening fails with one line that says what is wrong and what to try."""
    with pytest.raises(StoreError, match=match) as caught:
        Store.open(path, **how)
    text = str(caught.value)
    assert "\n" not in text
    assert "WIDEHAND_STORE" in text or "name a file" in text


def test_not_a_database(tmp_path: Path) -> None:
    """A text file is not taken for a history, and stays as it is."""
    path = tmp_path / "letter.txt"
    path.write_text("Dear neighbour, " * 100)
    for read_only in (False, True):
        refused(path, "is not a Widehand history; move it away", read_only=read_only)
    assert path.read_text() == "Dear neighbour, " * 100


def test_database_of_another_program(tmp_path: Path) -> None:
    """Somebody else's SQLite file is left alone."""
    path = tmp_path / "recipes.sqlite3"
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE recipe (name TEXT)")
    db.commit()
    db.close()
    before = path.read_bytes()
    for read_only in (False, True):
        refused(path, "database of another program", read_only=read_only)
    assert path.read_bytes() == before


def test_newer_schema(store_path: Path, open_store: Callable[[], Store]) -> None:
    """A file of a later program is refused politely, and stays as it is."""
    open_store().close()
    db = sqlite3.connect(store_path)
    db.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    db.close()
    words = rf"newer Widehand \(its schema is {SCHEMA + 1}, this one knows {SCHEMA}\); update"
    for read_only in (False, True):
        refused(store_path, words, read_only=read_only)
    db = sqlite3.connect(store_path)
    assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA + 1,)
    db.close()


def test_a_folder_and_a_file_in_the_way(tmp_path: Path) -> None:
    """A folder as the history, or a file where its folder should be."""
    refused(tmp_path, "is a folder; name a file in it")
    refused(tmp_path, "is a folder; name a file in it", read_only=True)
    (tmp_path / "file").write_text("")
    refused(tmp_path / "file" / "history.sqlite3", r"cannot be written \((file exists|not a directory)\)")


def test_folder_not_writable(guarded_folder: Path) -> None:
    """A new history in a folder without the right to write."""
    guarded_folder.chmod(0o500)
    refused(guarded_folder / "history.sqlite3", "cannot be written; check the rights")
    refused(guarded_folder / "more" / "history.sqlite3", r"cannot be written \(permission denied\)")


def test_file_not_writable_can_still_be_read(guarded_folder: Path, info: Info, verdict: MakeVerdict) -> None:
    """Progress works from a file, and a folder, that may only be read; recording is refused."""
    path = guarded_folder / "history.sqlite3"
    with Store.open(path) as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        store.keep(take, verdict(), [])
        store.finish_take(take, b"file", NOW)
    for file_rights, folder_rights in ((0o400, 0o700), (0o400, 0o500)):
        path.chmod(file_rights)
        guarded_folder.chmod(folder_rights)
        refused(path, "cannot be written; check the rights")
        with Store.open(path, read_only=True) as store:
            assert store.verdicts(take) == (verdict(),)
            with pytest.raises(StoreError, match="cannot be written"):
                store.begin_session(NOW)


def test_unfinished_log_in_a_folder_that_may_only_be_read(
    guarded_folder: Path, info: Info, verdict: MakeVerdict
) -> None:
    """Strokes that are only in the write-ahead log are shown too, never silently left out."""
    path = guarded_folder / "history.sqlite3"
    with Store.open(path) as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        store.keep(take, verdict(), [])
        guarded_folder.chmod(0o500)
        with Store.open(path, read_only=True) as reader:
            assert reader.verdicts(take) == (verdict(),)
        guarded_folder.chmod(0o700)


def test_file_not_readable(guarded_folder: Path) -> None:
    """No right to read is said as such."""
    path = guarded_folder / "history.sqlite3"
    Store.open(path).close()
    path.chmod(0)
    refused(path, "cannot be (read|written).*check the rights", read_only=True)


def test_nothing_there_reads_as_empty(tmp_path: Path) -> None:
    """Reading a history that does not exist (or is an empty file) finds no takes and makes no file."""
    path = tmp_path / "none" / "history.sqlite3"
    with Store.open(path, read_only=True) as store:
        assert store.takes() == ()
    assert not path.parent.exists()
    empty = tmp_path / "empty.sqlite3"
    empty.touch()
    with Store.open(empty, read_only=True) as store:
        assert store.takes() == ()
    assert empty.stat().st_size == 0


def test_disk_full(store: Store, info: Info, verdict: MakeVerdict, messages: MakeMessages) -> None:
    """A stroke that finds no room is refused as a whole; with room again, the same stroke goes in once."""
    take = store.begin_take(info(session=store.begin_session(NOW)))
    (pages,) = store.backend.db.execute("PRAGMA page_count").fetchone()
    store.backend.db.execute(f"PRAGMA max_page_count = {pages + 2}")
    kept, trouble = 0, ""
    while not trouble and kept < 1000:
        try:
            store.keep(take, verdict(kept), messages(kept))
            kept += 1
        except StoreError as error:
            trouble = str(error)
    assert "cannot grow, the disk is full; free some space" in trouble
    assert 0 < kept < 1000
    assert len(store.verdicts(take)) == kept
    store.backend.db.execute("PRAGMA max_page_count = 1000000")
    store.keep(take, verdict(kept), messages(kept))
    assert [one.step for one in store.verdicts(take)] == list(range(kept + 1))


def test_disk_full_while_the_file_is_written(
    open_store: Callable[[], Store],
    info: Info,
    verdict: MakeVerdict,
    messages: MakeMessages,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """When the take's file does not fit, no half file is left, and the next opening completes the take."""

    def no_space(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with open_store() as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        store.keep(take, verdict(), messages(0))
        with monkeypatch.context() as patch:
            patch.setattr(folders.os, "fsync", no_space)
            with pytest.raises(StoreError, match="takes cannot grow, the disk is full"):
                store.finish_take(take, b"file", NOW)
        assert list((store.backend.path.parent / "takes").iterdir()) == []
    with open_store() as store:
        assert store.notes == (f"take {take} of harbour-walk was cut off; its 1 stroke is kept",)
        assert store.take_file(take) == repr((messages(0), ())).encode()


def test_locked_by_another_program(store_path: Path, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A jam is waited for, then said; reading goes on meanwhile."""
    monkeypatch.setattr(connection, "BUSY_S", 0.05)
    other = sqlite3.connect(store_path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    refused(store_path, "is held by another program; close that one")
    store.backend.db.execute("PRAGMA busy_timeout = 50")
    with pytest.raises(StoreError, match="is held by another program"):
        store.begin_session(NOW)
    assert store.takes() == ()
    other.execute("ROLLBACK")
    other.close()
    assert store.begin_session(NOW) == 1


def test_damaged_file(store_path: Path, open_store: Callable[[], Store], info: Info, verdict: MakeVerdict) -> None:
    """A file with its inner pages overwritten is called damaged."""
    with open_store() as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        for step in range(200):
            store.keep(take, verdict(step), [])
    data = bytearray(store_path.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    store_path.write_bytes(bytes(data))
    refused(store_path, "is damaged .*put back a copy")
