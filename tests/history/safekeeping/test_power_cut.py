"""Power cuts, at the level of files: whatever part of the writing reached the disk, what was committed is there.

A commit is durable when the log holds it and has been synced (SQLite's write-ahead log with ``synchronous = FULL``;
sqlite.org/wal.html, sqlite.org/fileformat.html section 4). So the disk after a cut is: everything up to the last sync,
and of what was written later any bytes at all, in any order. These tests make such disks and open them.
"""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from listener.hearing.events import Message
from listener.history.store import folders
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict

NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)
STROKES = 25
SECTOR = 512
Disk = tuple[bytes, bytes]


@pytest.fixture(scope="module")
def disks(
    tmp_path_factory: pytest.TempPathFactory,
    info: Callable[..., TakeInfo],
    verdict: Callable[..., Verdict],
    messages: Callable[[int], tuple[Message, ...]],
) -> list[Disk]:
    """Main file and log after each of the commits of a take; the strokes kept are as many as the place in the list."""
    path = tmp_path_factory.mktemp("power") / "history.sqlite3"
    log = path.with_name(path.name + "-wal")
    found: list[Disk] = []
    with Store.open(path) as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        store.backend.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        found.append((path.read_bytes(), log.read_bytes()))
        for step in range(STROKES):
            store.keep(take, verdict(step), messages(step))
            found.append((path.read_bytes(), log.read_bytes()))
    assert len({main for main, _ in found}) == 1  # nothing went past the log
    return found


def strokes_on(folder: Path, main: bytes, log: bytes) -> int:
    """Open a disk with these files; the number of strokes on it, each with its MIDI, after all checks."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir()
    path = folder / "history.sqlite3"
    path.write_bytes(main)
    if log:
        path.with_name(path.name + "-wal").write_bytes(log)
    given: list[tuple[Message, ...]] = []

    def make_file(take: Any) -> bytes:
        given.append(take.messages)
        return b"file"

    with Store.open(path, make_file=make_file) as store:
        (note,) = store.notes
        assert "was cut off" in note
        assert store.check() == ()
        kept = store.verdicts(1)
    assert [one.step for one in kept] == list(range(len(kept)))
    assert len(given[0]) == 6 * len(kept)  # verdict and MIDI were one commit
    return len(kept)


def test_the_log_grows_with_every_commit_and_is_synced(disks: list[Disk]) -> None:
    """The log is appended to, and the setting that syncs it at every commit is on."""
    for (_, before), (_, after) in pairwise(disks):
        assert after.startswith(before)
        assert len(after) > len(before)


def test_log_cut_at_any_byte(disks: list[Disk], tmp_path: Path) -> None:
    """Every commit whose bytes are complete is there, and nothing of the others."""
    main, log = disks[-1]
    ends = [len(one) for _, one in disks]
    frame = 24 + 4096
    places = {*ends, *(end - 1 for end in ends[1:]), *(end + 1 for end in ends[:-1])}
    places |= {32 + frame * number + off for number in range(0, len(log) // frame, 11) for off in (-1, 0, 1, 24, 3000)}
    places |= set(random.Random(5).sample(range(len(log)), 15))
    seen = set()
    for place in sorted(place for place in places if 0 <= place <= len(log)):
        complete = max((number for number, end in enumerate(ends) if end <= place), default=0)
        assert strokes_on(tmp_path / "disk", main, log[:place]) == complete, place
        seen.add(complete)
    assert seen == set(range(STROKES + 1))


@pytest.mark.parametrize("seed", range(6))
def test_anything_may_lie_behind_the_last_sync(disks: list[Disk], tmp_path: Path, seed: int) -> None:
    """Sectors written after the last finished commit may be there, missing, zero or garbage, in any mixture: all that
    was committed is there, and what is more is whole commits."""
    chance = random.Random(seed)
    main, log = disks[-1]
    for _ in range(8):
        number = chance.randrange(STROKES)
        disk = bytearray(log[: len(disks[number][1])])
        for start in range(len(disk), len(log), SECTOR):
            sector = log[start : start + SECTOR]
            kind = chance.choice(("there", "there", "zero", "garbage", "old"))
            if kind == "zero":
                sector = bytes(len(sector))
            elif kind == "garbage":
                sector = chance.randbytes(len(sector))
            elif kind == "old":  # what lay there from an earlier use of the file
                sector = log[chance.randrange(len(log) - SECTOR) :][: len(sector)]
            disk += sector
        assert number <= strokes_on(tmp_path / "disk", main, bytes(disk)) <= STROKES


@pytest.mark.parametrize("seed", range(6))
def test_cut_while_the_log_goes_into_the_file(disks: list[Disk], tmp_path: Path, seed: int) -> None:
    """A checkpoint writes pages into the main file in any order; with any part of it done, sectors torn, all is there,
    because the log is let go of only when the file has been synced."""
    chance = random.Random(seed)
    main, log = disks[-1]
    path = tmp_path / "whole.sqlite3"
    path.write_bytes(main)
    path.with_name(path.name + "-wal").write_bytes(log)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    after = path.read_bytes()
    before = main.ljust(len(after), b"\0")
    for _ in range(6):
        share = chance.random()
        starts = range(0, len(after), SECTOR)
        mixed = b"".join((after if chance.random() < share else before)[at : at + SECTOR] for at in starts)
        # The file may also still be short.
        length = chance.randrange(len(main) // SECTOR, len(after) // SECTOR + 1) * SECTOR
        assert strokes_on(tmp_path / "disk", mixed[:length], log) == STROKES
    assert strokes_on(tmp_path / "disk", after, b"") == STROKES


def test_take_files_are_synced_before_they_get_their_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Content, then name, then folder: a power cut leaves a whole file or none."""
    done: list[str] = []
    real_sync, real_replace = os.fsync, os.replace

    def fsync(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "content")
        real_sync(handle)

    def replace(source: Path, target: Path) -> None:
        assert source.read_bytes() == b"take"
        done.append("name")
        real_replace(source, target)

    monkeypatch.setattr(folders.os, "fsync", fsync)
    monkeypatch.setattr(folders.os, "replace", replace)
    folders.write_take_file(tmp_path / "history.sqlite3", "0001-x", b"take")
    assert done == ["content", "name", "folder"]


def test_the_file_is_durable_before_the_raw_midi_goes(
    store: Store, info: Callable[..., TakeInfo], verdict: Callable[..., Verdict], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At no moment is a take's MIDI in neither place."""
    take = store.begin_take(info(session=store.begin_session(NOW)))
    store.keep(take, verdict(), [Message(1.0, (0x90, 60, 80))])
    real = folders.write_take_file

    def check(path: Path, name: str, data: bytes) -> str:
        found = real(path, name, data)
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("SELECT count(*) FROM chunk").fetchone() == (1,)
        assert (path.parent / found).read_bytes() == b"file"
        return found

    monkeypatch.setattr("listener.history.store.embedded.write_take_file", check)
    store.finish_take(take, b"file", NOW)
    assert store.backend.db.execute("SELECT count(*) FROM chunk").fetchone() == (0,)
